// Draws one map. Decides nothing: fills, outlines and places come from the engine.

import { hatch } from "./hatch.js";
import { stepFor } from "./shapes.js";

const INK = "#26302f";
const HALO = "#ffffff";

/**
 * The land of one map in the colours of its rates, on `pen`, whose transform already takes units of the plane to pixels.
 * `scene`: shapes of all maps; `fills`: per row of the rate table a colour, "" for none; `held`: per row whether its rate is held
 * down; `shown`: what the user wants to see.
 */
export function drawRates(pen, { scene, fills, held, shown, perPixel, scale }) {
  const groups = grouped(scene, fills, held, stepFor(perPixel));
  for (const [colour, path] of groups.colours) paint(pen, path, colour || HALO);
  if (groups.off) paint(pen, groups.off, hatch(pen, "off", scale));
  if (shown.held && groups.held) paint(pen, groups.held, hatch(pen, "held", scale));
}

/** What all maps have alike, whatever the rates: borders, strips kept clear, land left out, bouts. */
export function drawLines(pen, { scene, shown, perPixel, scale }) {
  const step = stepFor(perPixel);
  const px = (width) => width * perPixel;
  pen.lineJoin = "round";
  if (shown.clear) paint(pen, scene.clear.at(step), hatch(pen, "clear", scale));
  if (shown.zones) stroke(pen, scene.borders.at(step), INK, px(0.7), 0.6);
  if (shown.headland && scene.headland) dashed(pen, scene.headland.at(step), px);
  if (scene.out) {
    paint(pen, scene.out.at(step), HALO);
    paint(pen, scene.out.at(step), hatch(pen, "out", scale));
    stroke(pen, scene.out.at(step), "#10457a", px(1.2));
  }
  if (shown.bouts && scene.guide) dashed(pen, scene.guide.at(step), px);
  if (shown.bouts && scene.ways) stroke(pen, scene.ways.at(step), "#111111", px(0.8), 0.6);
  if (shown.bouts && scene.closed) {
    stroke(pen, scene.closed.at(step), "#ffffff", px(3));
    pen.setLineDash([px(10), px(3)]);
    stroke(pen, scene.closed.at(step), "#a3123f", px(1.6));
    pen.setLineDash([]);
  }
  if (scene.boundary) stroke(pen, scene.boundary.at(step), "#111111", px(2.2));
}

// One path for all land of a colour: fewer to draw, and no seam between neighbours. Kept as long as the rates are the same.
const kept = new WeakMap();

function grouped(scene, fills, held, step) {
  const before = kept.get(fills);
  if (before?.scene === scene && before.step === step) return before;
  const colours = new Map();
  let down = null;
  scene.rows.forEach(({ shape }, nth) => {
    const colour = fills[nth];
    if (!colours.has(colour)) colours.set(colour, new Path2D());
    colours.get(colour).addPath(shape.at(step));
    if (held?.[nth]) (down ??= new Path2D()).addPath(shape.at(step));
  });
  const groups = { scene, step, colours, off: colours.get(""), held: down };
  kept.set(fills, groups);
  return groups;
}

function paint(pen, path, style) {
  pen.fillStyle = style;
  pen.fill(path, "evenodd");
}

function stroke(pen, path, colour, width, alpha = 1) {
  pen.globalAlpha = alpha;
  pen.strokeStyle = colour;
  pen.lineWidth = width;
  pen.stroke(path);
  pen.globalAlpha = 1;
}

function dashed(pen, path, px) {
  stroke(pen, path, HALO, px(1.5), 0.75);
  pen.setLineDash([px(7), px(4)]);
  stroke(pen, path, "#111111", px(1.5));
  pen.setLineDash([]);
}

/** Plots of trials: an outline, broken where a plot goes by the map, with its number, and what is tried on it where there is room. */
export function drawPlots(pen, { scene, shown, perPixel }) {
  if (!shown.trials) return;
  const step = stepFor(perPixel);
  const px = (width) => width * perPixel;
  const high = px(12);
  pen.save();
  pen.font = `600 ${high}px system-ui, "Segoe UI", Roboto, "DejaVu Sans", sans-serif`;
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  for (const { shape, byMap, text, more, x, y } of scene.plots) {
    stroke(pen, shape.at(step), HALO, px(4));
    pen.setLineDash(byMap ? [px(6), px(4)] : []);
    stroke(pen, shape.at(step), "#111111", px(1.8));
    pen.setLineDash([]);
    const { width, height } = shape.extent();
    const room = Math.max(width, height);
    const words = [`${text}: ${more}`, text].find((one) => pen.measureText(one).width < room * 0.9);
    if (!words || Math.min(width, height) < high * 1.15) continue;
    pen.save();
    pen.translate(x, y);
    if (height > width) pen.rotate(-Math.PI / 2);
    pen.lineWidth = px(3);
    pen.strokeStyle = HALO;
    pen.strokeText(words, 0, 0);
    pen.fillStyle = "#111111";
    pen.fillText(words, 0, 0);
    pen.restore();
  }
  pen.restore();
}

/** Rates as numbers where there is room for them, 13 pixels high; `texts`: per row its rate. */
export function drawLabels(pen, { scene, texts, shown, perPixel }) {
  if (!shown.rates) return;
  const high = 13 * perPixel;
  pen.save();
  pen.font = `600 ${high}px system-ui, "Segoe UI", Roboto, "DejaVu Sans", sans-serif`;
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.lineJoin = "round";
  pen.lineWidth = 3 * perPixel;
  pen.strokeStyle = HALO;
  pen.fillStyle = "#111111";
  scene.rows.forEach((row, nth) => {
    const text = texts[nth];
    for (const { x, y, room } of row.labels) {
      if (room < high * Math.max(0.5, text.length * 0.31)) continue;
      pen.strokeText(text, x, y);
      pen.fillText(text, x, y);
    }
  });
  pen.restore();
}

/** Scale bar and north arrow, in pixels. */
export function drawFurniture(pen, { width, height, perPixel, perUnit, unit }) {
  const most = ((width / 4) * perPixel) / perUnit;
  const bar = roundBar(most);
  const long = (bar * perUnit) / perPixel;
  const low = height - 12;
  pen.font = '12px system-ui, "Segoe UI", Roboto, "DejaVu Sans", sans-serif';
  const text = `${bar.toLocaleString("en").replaceAll(",", "\u00a0")} ${unit}`;
  pen.fillStyle = "#ffffffd0";
  pen.fillRect(6, low - 14, long + 24 + pen.measureText(text).width, 22);
  pen.fillRect(width - 30, height - 44, 24, 40);
  pen.strokeStyle = pen.fillStyle = "#111111";
  pen.lineWidth = 1.6;
  pen.beginPath();
  pen.moveTo(14, low - 7);
  pen.lineTo(14, low);
  pen.lineTo(14 + long, low);
  pen.lineTo(14 + long, low - 7);
  pen.stroke();
  pen.textAlign = "left";
  pen.textBaseline = "alphabetic";
  pen.fillText(text, 22 + long, low);
  const [x, y] = [width - 18, height - 40];
  pen.beginPath();
  pen.moveTo(x, y);
  pen.lineTo(x + 6, y + 20);
  pen.lineTo(x, y + 15);
  pen.lineTo(x - 6, y + 20);
  pen.fill();
  pen.textAlign = "center";
  pen.font = `bold ${pen.font}`;
  pen.fillText("N", x, y + 33);
}

/** The longest of 1, 2, 5, 10, ... that is not above `most`; at least 1. */
function roundBar(most) {
  const ten = 10 ** Math.floor(Math.log10(Math.max(most, 1)));
  return Math.max(1, ten * ([5, 2].find((step) => step * ten <= most) || 1));
}
