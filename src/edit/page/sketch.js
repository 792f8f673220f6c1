// A little picture of what a file holds, drawn as soon as it has been read.

import { make } from "./make.js";
import { Shape } from "./shapes.js";

const WIDE = 320;
const HIGH = 180;
const ROOM = 10;

const flipped = (line) => line.map((number, nth) => (nth % 2 ? -number : number));

/** `layer`: a described layer with `rings` and `points` in centimetres; null where there is nothing to draw. */
export function sketch(layer, words) {
  const rings = (layer.rings ?? []).map(flipped);
  const points = (layer.points ?? []).map(flipped);
  if (!rings.length && !points.length) return null;
  const { x, y, width, height } = new Shape([...rings, ...points]).extent();
  const scale = Math.min(2, window.devicePixelRatio || 1);
  const canvas = make("canvas", { width: WIDE * scale, height: HIGH * scale, class: "sketch", role: "img", "aria-label": words });
  const zoom = Math.min((WIDE - 2 * ROOM) / Math.max(width, 1), (HIGH - 2 * ROOM) / Math.max(height, 1)) * scale;
  const pen = canvas.getContext("2d");
  pen.setTransform(zoom, 0, 0, zoom, (WIDE * scale) / 2 - (x + width / 2) * zoom, (HIGH * scale) / 2 - (y + height / 2) * zoom);
  const lines = (layer.kinds ?? []).some(([kind]) => /polygon/i.test(kind)) ? new Shape(rings) : new Shape(rings, false);
  const path = lines.at(1);
  if (lines.closed) {
    pen.fillStyle = "#e4eef0";
    pen.fill(path, "evenodd");
  }
  pen.strokeStyle = "#0b5563";
  pen.lineWidth = 1.2 / (zoom / scale);
  pen.stroke(path);
  pen.fillStyle = "#d81b60";
  const dot = 2.5 / (zoom / scale);
  for (const line of points) {
    let [px, py] = [0, 0];
    for (let at = 0; at + 1 < line.length; at += 2) {
      px += line[at];
      py += line[at + 1];
      pen.fillRect(px - dot, py - dot, 2 * dot, 2 * dot);
    }
  }
  return canvas;
}
