// The piece of land that all maps show alike: its middle, and how many units of the plane a pixel is wide.
// Units of the plane are the engine's: x to the east, y to the south.

const CLOSEST = 400; // of the whole field

export class View {
  constructor() {
    this.whole = { x: 0, y: 0, width: 1, height: 1 };
    this.x = 0;
    this.y = 0;
    this.perPixel = 1;
    this.size = { width: 300, height: 300 };
    this.fitted = true;
    this.told = new Set();
  }

  /** Calls `then` after each change. */
  onChange(then) {
    this.told.add(then);
  }

  changed() {
    for (const then of this.told) then(this);
  }

  /** The extent of the field, units of the plane. */
  setWhole(whole) {
    const { x, y, width, height } = this.whole;
    const same = x === whole.x && y === whole.y && width === whole.width && height === whole.height;
    this.whole = whole;
    if (!same || this.fitted) this.fit();
  }

  /** The size of each map, pixels. */
  setSize(width, height) {
    if (width === this.size.width && height === this.size.height) return;
    this.size = { width, height };
    if (this.fitted) this.fit();
    else this.changed();
  }

  widest() {
    const { whole, size } = this;
    // Below the field there is room for scale bar and north arrow.
    return Math.max((whole.width * 1.06) / size.width, (whole.height * 1.06) / Math.max(60, size.height - 44));
  }

  fit() {
    this.fitted = true;
    this.perPixel = this.widest();
    this.x = this.whole.x + this.whole.width / 2;
    this.y = this.whole.y + this.whole.height / 2 + 16 * this.perPixel;
    this.changed();
  }

  set(x, y, perPixel) {
    const { whole } = this;
    const most = this.widest();
    this.perPixel = Math.min(most, Math.max(most / CLOSEST, perPixel));
    this.fitted = this.perPixel >= most;
    if (this.fitted) return this.fit();
    this.x = Math.min(whole.x + whole.width, Math.max(whole.x, x));
    this.y = Math.min(whole.y + whole.height, Math.max(whole.y, y));
    return this.changed();
  }

  /** Moves by pixels of the screen. */
  move(right, down) {
    this.set(this.x + right * this.perPixel, this.y + down * this.perPixel, this.perPixel);
  }

  /** Zooms by a factor, keeping a place of the plane where it is on the screen. */
  zoom(by, at = { x: this.x, y: this.y }) {
    const next = Math.min(this.widest(), Math.max(this.widest() / CLOSEST, this.perPixel / by));
    const kept = next / this.perPixel;
    this.set(at.x + (this.x - at.x) * kept, at.y + (this.y - at.y) * kept, next);
  }

  /** Shows an extent of the plane, with room around it. */
  show({ x, y, width, height }) {
    const { size } = this;
    const perPixel = Math.max((width * 1.6) / size.width, (height * 1.6) / size.height, this.widest() / 10);
    this.set(x + width / 2, y + height / 2, perPixel);
  }

  toScreen(x, y) {
    return [(x - this.x) / this.perPixel + this.size.width / 2, (y - this.y) / this.perPixel + this.size.height / 2];
  }

  toPlane(right, down) {
    return { x: this.x + (right - this.size.width / 2) * this.perPixel, y: this.y + (down - this.size.height / 2) * this.perPixel };
  }
}
