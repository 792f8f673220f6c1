// Reads the simulated logs of a folder with the npm library `isoxml` and holds records and totals against what
// `twinsow compare --json` says of them: two readers that share no code.
//
// The folder has TASKDATA and compared.json; `tests/compare_machines.rs` writes both.
// Usage: node logs.js FOLDER
"use strict";

const fs = require("fs");
const path = require("path");
const JSZip = require("jszip");
const { ISOXMLManager } = require("isoxml");

// Total mass, g (entry 352), and the element of each product.
const GRAMS = "0160";
const ELEMENTS = { barley: "DET2", starter: "DET3" };

async function main() {
  const [folder] = process.argv.slice(2);
  if (!folder) throw new Error("usage: node logs.js FOLDER");
  const compared = JSON.parse(fs.readFileSync(path.join(folder, "compared.json"), "utf8"));
  const zip = new JSZip();
  const source = path.join(folder, "TASKDATA");
  for (const name of fs.readdirSync(source).sort()) {
    zip.file(`TASKDATA/${name}`, fs.readFileSync(path.join(source, name)));
  }
  const manager = new ISOXMLManager();
  await manager.parseISOXMLFile(await zip.generateAsync({ type: "uint8array" }), "application/zip");
  const logs = manager.rootElement.attributes.Task.flatMap((task) => task.attributes.TimeLog || []);
  let records = 0;
  const grown = {};
  for (const log of logs) {
    const last = {};
    for (const record of log.parseBinaryFile().timeLogs) {
      records += 1;
      for (const [key, value] of Object.entries(record.values)) {
        if (!key.startsWith(GRAMS)) continue;
        // A total that falls was set to zero and counts anew.
        if (key in last) grown[key] = (grown[key] || 0) + (value >= last[key] ? value - last[key] : value);
        last[key] = value;
      }
    }
  }
  const broken = [];
  if (records !== compared.records) broken.push(`${records} records, not ${compared.records}`);
  for (const product of compared.products) {
    const grams = grown[`${GRAMS}_${ELEMENTS[product.id]}`];
    const ours = Math.round(product.sown_kg * 1000);
    if (grams !== ours || !(grams > 0)) broken.push(`${product.id}: ${grams} g, not ${ours} g`);
  }
  if (broken.length > 0) {
    for (const line of broken) console.error(line);
    process.exit(1);
  }
  console.log(`logs.js: ${records} records and the totals of ${compared.products.length} products are the same`);
}

main().catch((error) => {
  console.error(error);
  process.exit(1);
});
