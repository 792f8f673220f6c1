// Reads the styles of layers (QML and SLD) with two readers of other makers, and holds what they say against what gis.py wants.
// Usage: check.js FOLDER   (for each layer NAME.qml, NAME.sld and NAME.json: column, and per rate value and colour)
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import * as sld from "geostyler-sld-parser";
import * as qml from "geostyler-qgis-parser";

const folder = process.argv[2];
if (!folder) {
  console.error("usage: check.js FOLDER");
  process.exit(2);
}
const parser = (module, name) => new (module[name] ?? module.default[name] ?? module.default)();
const names = readdirSync(folder).filter((name) => name.endsWith(".json")).map((name) => name.slice(0, -5));
let broken = names.length === 0 ? ["there is no style"] : [];
let held = 0;

// `["==", column, value]` of a rule.
const filterOf = (rule) => (Array.isArray(rule.filter) ? rule.filter.map(String) : []);

for (const name of names) {
  const wanted = JSON.parse(readFileSync(join(folder, `${name}.json`), "utf8"));
  for (const [kind, reader] of [["sld", parser(sld, "SldStyleParser")], ["qml", parser(qml, "QGISStyleParser")]]) {
    const { output, errors } = await reader.readStyle(readFileSync(join(folder, `${name}.${kind}`), "utf8"));
    if (errors?.length) broken.push(`${name}.${kind}: ${errors}`);
    const found = (output?.rules ?? []).map((rule) => [...filterOf(rule), rule.symbolizers[0]?.kind, rule.symbolizers[0]?.color?.toLowerCase()]);
    const right = wanted.rates.map(([value, colour]) => ["==", wanted.column, String(value), "Fill", colour]);
    if (JSON.stringify(found) === JSON.stringify(right)) held += right.length;
    else broken.push(`${name}.${kind}: found ${JSON.stringify(found)}, wanted ${JSON.stringify(right)}`);
  }
}
for (const text of broken) console.log(`styles_js: BROKEN: ${text}`);
console.log(`styles_js: ${held} rates have their colour, ${broken.length} broken`);
process.exit(broken.length ? 1 : 0);
