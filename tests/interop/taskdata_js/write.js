// Writes a data set with the npm library `isoxml`: two products on polygons, made into a grid by the library's own
// generator. For `others.py`, which reads it with twinsow.
//
// Usage: node write.js VERSION FILE.zip        (VERSION 3 or 4)
"use strict";

const fs = require("fs");
const { ISOXMLManager, TAGS } = require("isoxml");

async function main() {
  const [version, file] = process.argv.slice(2);
  if (!file) throw new Error("usage: node write.js VERSION FILE.zip");
  const manager = new ISOXMLManager({ version: Number(version), fmisTitle: "writer of a test", fmisVersion: "1" });
  const create = (tag, attributes) => manager.createEntityFromAttributes(tag, attributes);
  const ring = (points) => points.map(([lon, lat]) => create(TAGS.Point, { PointType: "2", PointNorth: lat, PointEast: lon }));
  const square = (west, south, east, north) => [[west, south], [east, south], [east, north], [west, north], [west, south]];
  const line = create(TAGS.LineString, { LineStringType: "1", Point: ring(square(8, 50, 8.004, 50.002)) });
  const boundary = create(TAGS.Polygon, { PolygonType: "1", LineString: [line] });
  const field = create(TAGS.Partfield, { PartfieldDesignator: "Grüner Acker", PartfieldArea: 63700, PolygonnonTreatmentZoneonly: [boundary] });
  manager.registerEntity(field);
  const variable = (ddi) => create(TAGS.ProcessDataVariable, { ProcessDataDDI: ddi, ProcessDataValue: 0 });
  const task = create(TAGS.Task, { TaskDesignator: "two products", TaskStatus: "1", PartfieldIdRef: manager.registerEntity(field) });
  manager.registerEntity(task);
  const feature = (west, south, p1, p2) => ({
    type: "Feature",
    properties: { p1, p2 },
    geometry: { type: "Polygon", coordinates: [square(west, south, west + 0.002, south + 0.001)] },
  });
  const features = [feature(8, 50, 18000, 9000), feature(8.002, 50, 15000, 0), feature(8, 50.001, 19050, 7001), feature(8.002, 50.001, 16001, 12345)];
  task.addGridFromGeoJSON({ type: "FeatureCollection", features }, [variable("0006"), variable("0006")], ["p1", "p2"]);
  manager.rootElement.attributes.Task = [task];
  manager.rootElement.attributes.Partfield = [field];
  fs.writeFileSync(file, await manager.saveISOXML());
}

main().catch((error) => {
  console.error(`write.js: ${error.stack || error}`);
  process.exit(1);
});
