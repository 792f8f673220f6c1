// A map of land that needs no rate: files before there is a job, the fields of a farm. It draws what it is given, each thing
// in its order, and tells which place is pointed at.

import { drawFurniture } from "./draw.js";
import { takeInHand } from "./hand.js";
import { hatch } from "./hatch.js";
import { make } from "./make.js";
import { drawSamples } from "./samples.js";
import { stepFor } from "./shapes.js";
import { View } from "./view.js";
import { say } from "./words.js";

const INK = "#26302f";
const MARK = "#d81b60";
const PER_M = 100;
const NEAR_PX = 14;
const SMALL_PX = 24;

export class LandMap {
  /** `told(place)`: a place of the plane is pointed at; `read(place)`: the crosshair has been moved there by keys. */
  constructor({ key, told, read }) {
    this.view = new View();
    this.things = [];
    this.cross = null;
    this.unit = { perUnit: PER_M, unit: say("units.distance_m") };
    this.canvas = make("canvas", { tabindex: "0", role: "application", "data-key": key });
    this.ground = make("div", { class: "ground land-map" }, this.canvas);
    const zoom = [["in", "+", () => this.view.zoom(1.5)], ["out", "−", () => this.view.zoom(1 / 1.5)], ["whole", say("land.whole"), () => this.view.fit()]];
    this.element = make("div", {}, make("div", { role: "group", "aria-label": say("tools.zoom"), class: "zoom" }, zoom.map(([what, sign, does]) => make("button", {
      type: "button", "data-key": `${key} ${what}`, "aria-label": say(what === "whole" ? "land.whole" : `tools.${what}`), onclick: does,
    }, sign))), this.ground);
    takeInHand(this.canvas, this.view, {
      told: (place) => { this.cross = place; told(place); this.paintSoon(); },
      over: () => {},
      cross: { get: () => this.cross, set: (from, dx = 0, dy = 0) => this.moveCross(from, dx, dy, read) },
      left: () => { this.cross = null; this.paintSoon(); },
    });
    this.view.onChange(() => this.paintSoon());
    new ResizeObserver(() => this.measure()).observe(this.ground);
  }

  /** `whole`: the extent of all there is; `things`: { shape, fill, line, wide, dash, hatch }, { samples } or { text, x, y, room }. */
  show(label, whole, things) {
    this.canvas.setAttribute("aria-label", label);
    this.things = things;
    this.ground.style.setProperty("--shape", String(Math.min(1.9, Math.max(0.8, whole.width / Math.max(1, whole.height * 1.14)))));
    this.view.setWhole(whole);
    this.paintSoon();
  }

  measure() {
    const { width, height } = this.ground.getBoundingClientRect();
    if (!width) return;
    this.view.setSize(Math.floor(width), Math.floor(height));
    this.paintSoon();
  }

  /** Of shapes the one at a place, or, where they are small on the screen, the nearest under a finger. */
  nearest(all, { x, y }) {
    const inside = all.find(({ shape }) => shape.holds(x, y));
    if (inside) return inside;
    const most = NEAR_PX * this.view.perPixel;
    const away = all.map((one) => {
      const [left, top, right, low] = one.shape.edges();
      return [Math.hypot(Math.max(left - x, 0, x - right), Math.max(top - y, 0, y - low)), one];
    }).filter(([far]) => far < most);
    return away.length ? away.reduce((best, next) => (next[0] < best[0] ? next : best))[1] : null;
  }

  /** Goes to a shape that is too small to be seen where the map stands. */
  seek(shape) {
    const { x, y, width, height } = shape.extent();
    const [right, low] = this.view.toScreen(x + width / 2, y + height / 2);
    const { size, perPixel } = this.view;
    const seen = right > 0 && low > 0 && right < size.width && low < size.height;
    if (!seen || Math.max(width, height) / perPixel < SMALL_PX) this.view.set(x + width / 2, y + height / 2, Math.max(width, height) / (size.height / 3));
  }

  moveCross(from, dx, dy, read) {
    this.cross = { x: from.x + dx, y: from.y + dy };
    const { view } = this;
    const [right, low] = view.toScreen(this.cross.x, this.cross.y);
    if (right < 20 || low < 20 || right > view.size.width - 20 || low > view.size.height - 20) view.set(this.cross.x, this.cross.y, view.perPixel);
    this.paintSoon();
    clearTimeout(this.reading);
    this.reading = setTimeout(() => { if (this.cross && read) read(this.cross); }, 250);
  }

  paintSoon() {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      this.paint();
    });
  }

  paint() {
    const { view, canvas } = this;
    const pen = canvas.getContext("2d");
    const { width, height } = view.size;
    const scale = Math.min(2, window.devicePixelRatio || 1);
    const [wide, high] = [Math.round(width * scale), Math.round(height * scale)];
    if (canvas.width !== wide || canvas.height !== high) [canvas.width, canvas.height] = [wide, high];
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.fillStyle = "#ffffff";
    pen.fillRect(0, 0, wide, high);
    const zoom = scale / view.perPixel;
    pen.setTransform(zoom, 0, 0, zoom, wide / 2 - view.x * zoom, high / 2 - view.y * zoom);
    for (const thing of this.things) this.draw(pen, thing, view.perPixel);
    pen.setTransform(scale, 0, 0, scale, 0, 0);
    drawFurniture(pen, { ...view.size, perPixel: view.perPixel, ...this.unit });
    if (this.cross) this.drawCross(pen);
  }

  draw(pen, thing, perPixel) {
    if (thing.samples) return drawSamples(pen, thing.samples, perPixel);
    if (thing.text !== undefined) return drawText(pen, thing, perPixel);
    const path = thing.shape.at(stepFor(perPixel));
    if (thing.fill) {
      pen.fillStyle = thing.fill;
      pen.fill(path, "evenodd");
    }
    if (thing.hatch) {
      pen.fillStyle = hatch(pen, thing.hatch, Math.min(2, window.devicePixelRatio || 1));
      pen.fill(path, "evenodd");
    }
    pen.lineJoin = "round";
    pen.strokeStyle = thing.line ?? INK;
    pen.lineWidth = (thing.wide ?? 1) * perPixel;
    pen.setLineDash((thing.dash ?? []).map((long) => long * perPixel));
    pen.stroke(path);
    pen.setLineDash([]);
    return undefined;
  }

  drawCross(pen) {
    const [right, down] = this.view.toScreen(this.cross.x, this.cross.y);
    for (const [colour, width] of [["#ffffff", 5], ["#111111", 2]]) {
      pen.strokeStyle = colour;
      pen.lineWidth = width;
      pen.beginPath();
      for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
        pen.moveTo(right + 5 * dx, down + 5 * dy);
        pen.lineTo(right + 16 * dx, down + 16 * dy);
      }
      pen.stroke();
    }
  }
}

/** The line around what is chosen. */
export const CHOSEN = { line: MARK, wide: 3.5 };

/** A name on the land, where there is room for it; what does not fit is left to the list beside the map. */
function drawText(pen, { text, x, y, room, lines = [text] }, perPixel) {
  const high = 13 * perPixel;
  if (room < high * 0.9) return;
  pen.save();
  pen.font = `600 ${high}px system-ui, "Segoe UI", Roboto, "DejaVu Sans", sans-serif`;
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.lineJoin = "round";
  pen.lineWidth = 3 * perPixel;
  pen.strokeStyle = "#ffffff";
  pen.fillStyle = "#111111";
  const most = room * 2.6;
  lines.filter((line) => pen.measureText(line).width < most).forEach((line, nth, all) => {
    const low = y + (nth - (all.length - 1) / 2) * high * 1.2;
    pen.strokeText(line, x, low);
    pen.fillText(line, x, low);
  });
  pen.restore();
}
