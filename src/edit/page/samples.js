// Values in colours: points of samples, pixels of a raster, and the legend of both. Steps and colours come from the engine.

import { swatch } from "./hatch.js";
import { make } from "./make.js";
import { count, say } from "./words.js";

/** Places of a line as the engine sends it: the first, then steps; its y goes north, that of a screen south. */
export function placesOf(line) {
  const places = [];
  let [x, y] = [0, 0];
  for (let at = 0; at + 1 < line.length; at += 2) {
    x += line[at];
    y -= line[at + 1];
    places.push([x, y]);
  }
  return places;
}

/** Points with a step each (null for no value), or a raster with a step per pixel; null where there is neither. */
export function samplesOf({ points, steps, raster, legend }) {
  if (points?.length && points[0].length) return { places: placesOf(points[0]), steps: steps ?? [], legend: legend ?? [] };
  return raster?.steps ? { ...pixelsOf(raster), legend: raster.legend } : null;
}

function pixelsOf({ columns, rows, steps, legend, corners }) {
  const picture = make("canvas", { width: columns, height: rows });
  const pen = picture.getContext("2d");
  steps.forEach((step, nth) => {
    if (step === null) return;
    pen.fillStyle = legend[step].colour;
    pen.fillRect(nth % columns, Math.floor(nth / columns), 1, 1);
  });
  const [from, right, low] = placesOf(corners[0]);
  return { picture, from, right: [0, 1].map((at) => (right[at] - from[at]) / columns), down: [0, 1].map((at) => (low[at] - from[at]) / rows) };
}

/** Left, upper, right and lower edge of what is drawn. */
export function edgesOf({ places, picture, from, right, down }) {
  const all = places ?? [[0, 0], [1, 0], [0, 1], [1, 1]].map(([column, row]) => [0, 1].map((at) => from[at] + column * picture.width * right[at] + row * picture.height * down[at]));
  const of = (at, most) => all.reduce((found, place) => most(found, place[at]), most === Math.min ? Infinity : -Infinity);
  return [of(0, Math.min), of(1, Math.min), of(0, Math.max), of(1, Math.max)];
}

export function drawSamples(pen, { places, steps, legend, picture, from, right, down }, perPixel) {
  if (picture) {
    pen.save();
    pen.imageSmoothingEnabled = false;
    pen.transform(right[0], right[1], down[0], down[1], from[0], from[1]);
    pen.drawImage(picture, 0, 0);
    pen.restore();
    return;
  }
  const size = (places.length > 2000 ? 2 : places.length > 200 ? 3.5 : 5.5) * perPixel;
  places.forEach(([x, y], nth) => {
    const step = steps[nth];
    pen.beginPath();
    pen.arc(x, y, size, 0, 7);
    pen.fillStyle = step === null || step === undefined ? "#ffffff" : legend[step].colour;
    pen.fill();
    if (size < 3 * perPixel) return;
    // Seen on light and on dark land.
    for (const [colour, wide] of [["#ffffff", 3.5], ["#111111", 1.2]]) {
      pen.strokeStyle = colour;
      pen.lineWidth = wide * perPixel;
      pen.stroke();
    }
    pen.fill();
  });
}

/** What the colours of samples mean. */
export function samplesLegend({ legend, places, steps }, name) {
  const without = places ? places.length - steps.filter((step) => step !== null).length : 0;
  return make("div", { class: "samples-legend" },
    make("p", { class: "soft" }, say(places ? "samples.points" : "samples.pixels", { name })),
    make("ul", { class: "keys" }, legend.map(({ colour, text, count: many }) => make("li", {}, swatch(colour), make("span", {}, text), places ? make("small", {}, ` ${count("samples.count", many)}`) : null)),
      without ? make("li", {}, swatch("#ffffff"), make("span", {}, count("samples.without", without))) : null));
}
