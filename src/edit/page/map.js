// One map on the page: a sheet that is drawn once and moved as a picture while the land is dragged, and over it
// what moves with the pointer. The sheet is drawn sharp again when the hand rests.

import { drawFurniture, drawLabels, drawLines, drawPlots, drawRates } from "./draw.js";
import { drawSamples } from "./samples.js";
import { stepFor } from "./shapes.js";

const REST_MS = 50;
const AROUND = 0.25; // of the map's size that the sheet is larger on each side
const MARK = "#d81b60";

// Borders are the same on every map and for every rate: they are drawn once for a view.
const lines = { of: "", scene: null, sheet: document.createElement("canvas") };

function linesOf(drawn, wide, high, onto) {
  const of = JSON.stringify([onto, wide, high, drawn.shown, drawn.scene.ways !== null]);
  if (lines.scene !== drawn.scene || lines.of !== of) {
    [lines.sheet.width, lines.sheet.height] = [wide, high];
    const pen = lines.sheet.getContext("2d");
    pen.setTransform(...onto);
    drawLines(pen, drawn);
    Object.assign(lines, { of, scene: drawn.scene });
  }
  return lines.sheet;
}

export class RateMap {
  /** `view`: the land that all maps show; `look()`: what there is to draw now, or null; `over()`: marks above it. */
  constructor(element, view, look, over) {
    this.view = view;
    this.look = look;
    this.over = over;
    this.canvas = element;
    this.pen = element.getContext("2d");
    this.sheet = document.createElement("canvas");
    this.sheetPen = this.sheet.getContext("2d", { alpha: false });
    this.drawnAt = null;
    this.resting = 0;
    this.asked = false;
    view.onChange(() => this.moved());
  }

  /** The view has moved: the old sheet moves at once, a sharp one follows. */
  moved() {
    this.paintSoon();
    clearTimeout(this.resting);
    this.resting = setTimeout(() => this.redraw(), REST_MS);
  }

  paintSoon() {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      this.paint();
    });
  }

  /** Draws the sheet anew and shows it. */
  redraw() {
    clearTimeout(this.resting);
    const { view, sheet, sheetPen: pen } = this;
    const now = this.look();
    const { width, height } = view.size;
    const scale = Math.min(2, window.devicePixelRatio || 1);
    const [wide, high] = [width * (1 + 2 * AROUND), height * (1 + 2 * AROUND)].map((size) => Math.max(1, Math.round(size * scale)));
    if (sheet.width !== wide || sheet.height !== high) [sheet.width, sheet.height] = [wide, high];
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.fillStyle = "#ffffff";
    pen.fillRect(0, 0, wide, high);
    this.drawnAt = { x: view.x, y: view.y, perPixel: view.perPixel, scale };
    if (now) {
      const drawn = { ...now, perPixel: view.perPixel, scale };
      const zoom = scale / view.perPixel;
      const onto = [zoom, 0, 0, zoom, Math.floor(wide / 2) - view.x * zoom, Math.floor(high / 2) - view.y * zoom];
      const lines = linesOf(drawn, wide, high, onto);
      pen.setTransform(...onto);
      drawRates(pen, drawn);
      if (drawn.samples?.picture) drawSamples(pen, drawn.samples, view.perPixel);
      pen.setTransform(1, 0, 0, 1, 0, 0);
      pen.drawImage(lines, 0, 0);
      pen.setTransform(...onto);
      if (drawn.samples?.places) drawSamples(pen, drawn.samples, view.perPixel);
      drawLabels(pen, drawn);
      if (drawn.scene.plots.length) drawPlots(pen, drawn);
    }
    this.paint();
  }

  /** Shows the sheet where it belongs now, and the marks above it. */
  paint() {
    const { view, canvas, pen, drawnAt } = this;
    const { width, height } = view.size;
    const scale = Math.min(2, window.devicePixelRatio || 1);
    const [wide, high] = [Math.round(width * scale), Math.round(height * scale)];
    if (canvas.width !== wide || canvas.height !== high) [canvas.width, canvas.height] = [wide, high];
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.fillStyle = "#ffffff";
    pen.fillRect(0, 0, wide, high);
    if (drawnAt) {
      const bigger = (drawnAt.perPixel / view.perPixel) * (scale / drawnAt.scale);
      const right = ((drawnAt.x - view.x) / view.perPixel) * scale + wide / 2;
      const down = ((drawnAt.y - view.y) / view.perPixel) * scale + high / 2;
      const [sheetWide, sheetHigh] = [this.sheet.width * bigger, this.sheet.height * bigger];
      // On whole pixels, so that a sheet that rests is as sharp as it was drawn.
      pen.drawImage(this.sheet, Math.round(right - sheetWide / 2), Math.round(down - sheetHigh / 2), Math.round(sheetWide), Math.round(sheetHigh));
    }
    pen.setTransform(scale, 0, 0, scale, 0, 0);
    this.marks(pen);
  }

  marks(pen) {
    const { view } = this;
    const { chosen, cross, pins, units, line, hand } = this.over();
    if (chosen.length) {
      const { width, height } = view.size;
      const scale = pen.getTransform().a;
      const zoom = scale / view.perPixel;
      pen.save();
      pen.setTransform(zoom, 0, 0, zoom, (width * scale) / 2 - view.x * zoom, (height * scale) / 2 - view.y * zoom);
      for (const [colour, wide] of [["#ffffff", 6], [MARK, 3]]) {
        pen.strokeStyle = colour;
        pen.lineWidth = wide * view.perPixel;
        for (const shape of chosen) pen.stroke(shape.at(stepFor(view.perPixel)));
      }
      pen.restore();
    }
    this.line(pen, line, hand);
    for (const pin of pins) this.pin(pen, pin);
    if (units) drawFurniture(pen, { ...view.size, perPixel: view.perPixel, ...units });
    if (cross) this.cross(pen, cross);
  }

  /** A line that is being drawn, its places numbered in their order; and what the next one is caught by. */
  line(pen, places, { closed, caught, shape }) {
    const onScreen = places.map(({ x, y }) => this.view.toScreen(x, y));
    for (const [colour, width] of [["#ffffff", 5], [MARK, 2.5]]) {
      pen.strokeStyle = colour;
      pen.lineWidth = width;
      pen.beginPath();
      onScreen.forEach(([right, down], nth) => (nth ? pen.lineTo(right, down) : pen.moveTo(right, down)));
      if (closed) pen.closePath();
      pen.stroke();
    }
    if (caught) this.caught(pen, caught, shape === "place" ? null : onScreen.at(-1));
    places.forEach(({ x, y }, nth) => this.pin(pen, { x, y, text: String(nth + 1) }));
  }

  /** The place that a press would take: a square at a corner, a diamond on an edge, a ring where nothing is near. */
  caught(pen, { x, y, caught }, from) {
    const [right, down] = this.view.toScreen(x, y);
    const size = 8;
    for (const [colour, width] of [["#ffffff", 5], [MARK, 2.5]]) {
      pen.strokeStyle = colour;
      pen.lineWidth = width;
      if (from) {
        pen.setLineDash([6, 5]);
        pen.beginPath();
        pen.moveTo(...from);
        pen.lineTo(right, down);
        pen.stroke();
        pen.setLineDash([]);
      }
      pen.beginPath();
      if (caught === "corner") pen.rect(right - size, down - size, 2 * size, 2 * size);
      else if (caught === "edge") [[0, -1], [1, 0], [0, 1], [-1, 0]].forEach(([dx, dy]) => pen.lineTo(right + dx * 1.3 * size, down + dy * 1.3 * size));
      else pen.arc(right, down, 4, 0, 7);
      pen.closePath();
      pen.stroke();
    }
  }

  pin(pen, { x, y, text, gate }) {
    const [right, down] = this.view.toScreen(x, y);
    pen.beginPath();
    if (gate) pen.rect(right - 10, down - 10, 20, 20);
    else pen.arc(right, down, 10, 0, 7);
    pen.fillStyle = "#ffffff";
    pen.fill();
    pen.strokeStyle = MARK;
    pen.lineWidth = 2.5;
    pen.stroke();
    pen.fillStyle = "#111111";
    pen.font = "bold 11px system-ui, sans-serif";
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.fillText(text, right, down + 0.5);
  }

  cross(pen, { x, y }) {
    const [right, down] = this.view.toScreen(x, y);
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
