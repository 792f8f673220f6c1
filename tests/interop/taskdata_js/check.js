// Reads the task data of a delivered folder with the npm library `isoxml` and compares every cell with the
// values that the PyPI library read (`taskdata_py.py --cells`): two readers that share no code.
//
// Quirk of this reader: `getGridAsGeoJSON` leaves out cells whose values are all 0, so the cells it returns are
// counted against the cells that are not all 0.
//
// Usage: node check.js FOLDER CELLS.json
"use strict";

const fs = require("fs");
const path = require("path");
const JSZip = require("jszip");
const { ISOXMLManager } = require("isoxml");

async function main() {
  const [folder, cellsFile] = process.argv.slice(2);
  if (!folder || !cellsFile) throw new Error("usage: node check.js FOLDER CELLS.json");
  const broken = [];
  let held = 0;
  const that = (holds, text) => (holds ? held++ : broken.push(text));

  // The library reads a zip; the folder goes in as it would lie on the stick.
  const zip = new JSZip();
  const source = path.join(folder, "terminal", "TASKDATA");
  for (const name of fs.readdirSync(source).sort()) {
    zip.file(`TASKDATA/${name}`, fs.readFileSync(path.join(source, name)));
  }
  const manager = new ISOXMLManager();
  await manager.parseISOXMLFile(await zip.generateAsync({ type: "uint8array" }), "application/zip");
  const warnings = manager.getWarnings();
  that(warnings.length === 0, `the reader warns: ${JSON.stringify(warnings)}`);

  // Every other form has to be read without a warning, with its grids and as many values per cell.
  const fallback = path.join(folder, "terminal", "fallback");
  for (const form of fs.readdirSync(fallback).filter((name) => name.startsWith("task-data-")).sort()) {
    const other = new JSZip();
    for (const name of fs.readdirSync(path.join(fallback, form, "TASKDATA")).sort()) {
      other.file(`TASKDATA/${name}`, fs.readFileSync(path.join(fallback, form, "TASKDATA", name)));
    }
    const reader = new ISOXMLManager();
    await reader.parseISOXMLFile(await other.generateAsync({ type: "uint8array" }), "application/zip");
    that(reader.getWarnings().length === 0, `${form}: the reader warns: ${JSON.stringify(reader.getWarnings())}`);
    for (const one of reader.rootElement.attributes.Task || []) {
      const grid = (one.attributes.Grid || [])[0];
      const zones = one.attributes.TreatmentZone || [];
      if (form.includes("-polygons")) {
        const outlined = zones.filter((zone) => (zone.attributes.PolygonTreatmentZoneonly || []).length === 1);
        that(!grid && outlined.length > 0 && outlined.length === zones.length - 3, `${form}: zones with one polygon each`);
        continue;
      }
      const each = grid && grid.attributes.GridType === "1" ? 1 : 4 * zones[0].attributes.ProcessDataVariable.length;
      const cells = grid && grid.attributes.GridMaximumColumn * grid.attributes.GridMaximumRow;
      that(grid && grid.binaryData.length === cells * each, `${form}: the grid of ${one.attributes.TaskDesignator}`);
    }
  }

  const tasks = manager.rootElement.attributes.Task || [];
  that(tasks.length === 1, `${tasks.length} tasks`);
  const task = tasks[0];
  that((task.attributes.Grid || []).length === 1, "not exactly one grid");
  for (const key of ["CustomerIdRef", "FarmIdRef", "PartfieldIdRef"]) {
    that(task.attributes[key] && task.attributes[key].entity, `the task's ${key} leads nowhere`);
  }
  const wanted = JSON.parse(fs.readFileSync(cellsFile, "utf-8"));
  const products = wanted.values[0].length;
  const descriptions = task.getGridValuesDescription();
  that(descriptions.length === products, `${descriptions.length} values per cell, wanted ${products}`);
  for (const d of descriptions) {
    that(d.DDINumber === 6 && d.unit === "kg/ha" && d.scale === 0.01, `a value is shown as ${JSON.stringify(d)}`);
  }

  const names = Array.from({ length: products }, (_, i) => `p${i}`);
  const features = task.getGridAsGeoJSON(names).features;
  const alive = wanted.values.filter((cell) => cell.some((v) => v !== 0)).length;
  that(features.length === alive, `${features.length} cells with a rate, wanted ${alive}`);
  const seen = new Set();
  for (const feature of features) {
    const ring = feature.geometry.coordinates[0];
    const west = Math.min(...ring.map((p) => p[0]));
    const south = Math.min(...ring.map((p) => p[1]));
    const column = Math.round((west - wanted.west) / wanted.wide);
    const row = Math.round((south - wanted.south) / wanted.high);
    const off = Math.max(
      Math.abs(west - wanted.west - column * wanted.wide) / wanted.wide,
      Math.abs(south - wanted.south - row * wanted.high) / wanted.high,
    );
    const index = row * wanted.columns + column;
    const cell = wanted.values[index];
    const same = cell && names.every((name, i) => feature.properties[name] === cell[i]);
    that(off < 1e-6 && same && !seen.has(index), `cell at row ${row}, column ${column}: ${JSON.stringify(feature.properties)}, wanted ${cell}`);
    seen.add(index);
  }

  for (const text of broken.slice(0, 20)) console.log(`taskdata_js: ${folder}: BROKEN: ${text}`);
  console.log(`taskdata_js: ${folder}: ${held} checks held, ${broken.length} broken`);
  if (broken.length > 0 || features.length === 0) process.exit(1);
}

main().catch((error) => {
  console.error(`taskdata_js: ${error.stack || error}`);
  process.exit(1);
});
