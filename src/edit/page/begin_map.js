// All files on one map before there is a job: borders, zones, samples and rasters, in the plane of the first of them. Of a
// border file with many fields those that are meant are chosen here, by pointer or with the crosshair.

import { aloud } from "./aloud.js";
import { CHOSEN, LandMap } from "./land_map.js";
import { make } from "./make.js";
import { edgesOf, samplesLegend, samplesOf } from "./samples.js";
import { around, flipped } from "./scene.js";
import { Shape } from "./shapes.js";
import { say } from "./words.js";

let map = null;
let fieldAt = () => null;
let point = () => {};
let seek = () => {};
/** Brings a field of the border file to sight on the map. */
export const seekField = (value) => seek(value);
const kept = new Map(); // by described layer: its shapes, so that paths are made once

export const drawable = (pieces) => pieces.some((piece) => thingsOf(piece).length > 0);

/** `pieces`: layers of files with what they are for; `choice`: { fields, chosen, turn(value) } of the border file, or null where there is nothing to choose. */
export function beginMap(pieces, choice) {
  map ??= new LandMap({ key: "begin map", told: (place) => point(place), read: (place) => aloud(fieldAt(place)?.words ?? say("begin.map_empty")) });
  // Rasters lie below all else, points above it.
  const below = ({ samples, shape }) => (samples?.picture ? 0 : shape ? 1 : 2);
  const things = [...pieces].reverse().flatMap(thingsOf).sort((a, b) => below(a) - below(b));
  const fields = choice ? shapesOf(choice.fields) : [];
  const marks = fields.filter(({ value }) => choice.chosen.has(value)).map(({ shape }) => ({ shape, ...CHOSEN, fill: "#d81b6030" }));
  const names = choice ? fields.flatMap(({ value, words, shape }) => nameOn(shape, value, words)) : [];
  const whole = around([...things, ...marks].filter(({ shape }) => shape).map(({ shape }) => shape));
  const samples = things.filter((thing) => thing.samples);
  fieldAt = (place) => map.nearest(fields, place);
  seek = (value) => {
    const field = fields.find((one) => one.value === value);
    if (field) map.seek(field.shape);
  };
  point = (place) => {
    const field = fieldAt(place);
    if (field && choice) choice.turn(field.value);
    else aloud(say("begin.map_empty"));
  };
  const points = things.filter((thing) => thing.samples?.places);
  map.show(say(choice ? "begin.map_choose" : "begin.map"), grown(whole, samples), [...things.filter((thing) => !points.includes(thing)), ...marks, ...points, ...names]);
  return make("div", { class: "begin-map" },
    choice ? make("p", { class: "soft" }, say("begin.map_hint")) : null,
    map.element,
    samples.map(({ samples: of, name }) => samplesLegend(of, name)));
}

function grown(whole, samples) {
  const all = samples.map(({ samples: of }) => edgesOf(of));
  if (whole) all.push([whole.x, whole.y, whole.x + whole.width, whole.y + whole.height]);
  if (!all.length) return { x: 0, y: 0, width: 1, height: 1 };
  const [x, y] = [0, 1].map((at) => Math.min(...all.map((edges) => edges[at])));
  const [right, low] = [2, 3].map((at) => Math.max(...all.map((edges) => edges[at])));
  return { x, y, width: Math.max(1, right - x), height: Math.max(1, low - y) };
}

/** What of a layer or a raster is drawn. */
function thingsOf({ one, layer, use }) {
  if (use.role === "unused") return [];
  if (layer) return ofLayer(layer, use.role, use.column, one.file);
  return one.raster.steps ? [{ samples: memo(one.raster, () => samplesOf({ raster: one.raster, legend: one.raster.legend })), name: one.file }] : [];
}

function ofLayer(layer, role, column, file) {
  const closed = (layer.kinds ?? []).some(([kind]) => kind === "polygon");
  const shape = layer.rings?.length ? memo(layer, () => new Shape(flipped(layer.rings), closed)) : null;
  const drawn = shape ? [{ shape, fill: closed ? (role === "boundary" ? "#e4eef050" : "#e9ae8030") : null, line: role === "boundary" ? "#111111" : "#7a5a2a", wide: role === "boundary" ? 2 : 1 }] : [];
  const values = (layer.values ?? []).find(({ name }) => name === column);
  const points = layer.points?.length ? [{ samples: samplesOf({ points: layer.points, steps: values?.steps ?? layer.points[0].map(() => null), legend: values?.legend ?? [] }), name: `${file}${column ? `, ${column}` : ""}` }] : [];
  return [...drawn, ...points];
}

function memo(of, makes) {
  if (!kept.has(of)) kept.set(of, makes());
  return kept.get(of);
}

const shapesOf = (fields) => memo(fields, () => fields.all.filter(({ rings }) => rings.length).map(({ value, area_text: area, rings }) => ({ value, words: `${value}, ${area}`, shape: new Shape(flipped(rings)) })));

/** The name of a field and its hectares in the middle of its land, where they fit. */
function nameOn(shape, value, words) {
  const { x, y, width, height } = shape.extent();
  return [{ text: words, lines: [value, words.slice(value.length + 2)], x: x + width / 2, y: y + height / 2, room: Math.min(width, height) / 2 }];
}
