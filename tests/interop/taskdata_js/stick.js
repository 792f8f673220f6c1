// Reads every set of a stick with the npm library `isoxml`: no warning, one task or more for each field, every reference leads
// somewhere, and the cells of every grid add up to those of the file as its bytes have them.
//
// Usage: node stick.js STICK NUMBER_OF_FIELDS
"use strict";

const fs = require("fs");
const path = require("path");
const JSZip = require("jszip");
const { ISOXMLManager } = require("isoxml");

function sets(folder) {
  if (fs.existsSync(path.join(folder, "TASKDATA.XML"))) return [folder];
  const below = fs.readdirSync(folder, { withFileTypes: true }).filter((entry) => entry.isDirectory());
  return below.flatMap((entry) => sets(path.join(folder, entry.name))).sort();
}

async function main() {
  const [stick, fields] = process.argv.slice(2);
  if (!stick || !fields) throw new Error("usage: node stick.js STICK NUMBER_OF_FIELDS");
  const broken = [];
  let held = 0;
  const that = (holds, text) => (holds ? held++ : broken.push(text));
  const found = sets(stick);
  that(found.length >= 4, `only ${found.length} sets`);
  for (const set of found) {
    const zip = new JSZip();
    for (const name of fs.readdirSync(set).sort()) zip.file(`TASKDATA/${name}`, fs.readFileSync(path.join(set, name)));
    const manager = new ISOXMLManager();
    await manager.parseISOXMLFile(await zip.generateAsync({ type: "uint8array" }), "application/zip");
    that(manager.getWarnings().length === 0, `${set}: the reader warns: ${JSON.stringify(manager.getWarnings()).slice(0, 500)}`);
    const root = manager.rootElement.attributes;
    const known = new Set((root.Partfield || []).map((field) => field.attributes.PartfieldDesignator));
    that(known.size === Number(fields), `${set}: ${known.size} fields`);
    const sown = new Set();
    for (const task of root.Task || []) {
      for (const key of ["CustomerIdRef", "FarmIdRef", "PartfieldIdRef"]) {
        that(task.attributes[key] && task.attributes[key].entity, `${set}: ${task.attributes.TaskDesignator}: ${key} leads nowhere`);
      }
      sown.add(task.attributes.PartfieldIdRef.entity.attributes.PartfieldDesignator);
      for (const zone of task.attributes.TreatmentZone || []) {
        for (const value of zone.attributes.ProcessDataVariable || []) {
          that(value.attributes.ProductIdRef.entity, `${set}: ${task.attributes.TaskDesignator}: a product leads nowhere`);
        }
      }
      const grid = (task.attributes.Grid || [])[0];
      if (!grid) {
        that(set.includes("polygons"), `${set}: ${task.attributes.TaskDesignator} has no grid`);
        continue;
      }
      const cells = grid.attributes.GridMaximumColumn * grid.attributes.GridMaximumRow;
      const each = grid.attributes.GridType === "1" ? 1 : 4 * task.attributes.TreatmentZone[0].attributes.ProcessDataVariable.length;
      that(grid.binaryData.length === cells * each, `${set}: ${task.attributes.TaskDesignator}: ${grid.binaryData.length} bytes`);
      if (grid.attributes.GridType === "1") continue;
      const names = Array.from({ length: each / 4 }, (_, at) => `p${at}`);
      let [wanted, got] = [0, 0];
      const values = new DataView(grid.binaryData.buffer, grid.binaryData.byteOffset, grid.binaryData.length);
      for (let at = 0; at < grid.binaryData.length; at += 4) wanted += values.getInt32(at, true);
      for (const feature of task.getGridAsGeoJSON(names).features) for (const name of names) got += feature.properties[name];
      that(wanted === got && wanted > 0, `${set}: ${task.attributes.TaskDesignator}: cells add up to ${got}, wanted ${wanted}`);
    }
    that(sown.size === Number(fields), `${set}: tasks for ${sown.size} fields`);
  }
  for (const text of broken.slice(0, 20)) console.log(`stick.js: BROKEN: ${text}`);
  console.log(`stick.js: ${found.length} sets: ${held} checks held, ${broken.length} broken`);
  if (broken.length > 0) process.exit(1);
}

main().catch((error) => {
  console.error(`stick.js: ${error.stack || error}`);
  process.exit(1);
});
