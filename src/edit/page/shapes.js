// Outlines as the engine sends them, made into paths no finer than the screen can show.
// A ring is flat: the first place, then the step to each next one.

function tracedInto(path, ring, step, closed) {
  let [x, y] = ring;
  let [seenX, seenY] = [Math.round(x / step), Math.round(y / step)];
  path.moveTo(seenX * step, seenY * step);
  for (let at = 2; at + 1 < ring.length; at += 2) {
    x += ring[at];
    y += ring[at + 1];
    // All pieces are rounded alike, so no gap opens between neighbours.
    const [nextX, nextY] = [Math.round(x / step), Math.round(y / step)];
    if (nextX === seenX && nextY === seenY) continue;
    [seenX, seenY] = [nextX, nextY];
    path.lineTo(seenX * step, seenY * step);
  }
  if (closed) path.closePath();
}

/** One shape: rings or lines, and its paths by coarseness. */
export class Shape {
  constructor(rings, closed = true) {
    this.rings = rings;
    this.closed = closed;
    this.paths = new Map();
  }

  at(step) {
    if (!this.paths.has(step)) {
      const path = new Path2D();
      for (const ring of this.rings) if (ring.length >= 4) tracedInto(path, ring, step, this.closed);
      this.paths.set(step, path);
    }
    return this.paths.get(step);
  }

  /** Left, upper, right and lower edge. */
  edges() {
    this.found ??= edgesOf(this.rings);
    return this.found;
  }

  extent() {
    const [left, top, right, bottom] = this.edges();
    return { x: left, y: top, width: right - left, height: bottom - top };
  }

  /** Whether a place lies inside, by counting the borders to the east of it. */
  holds(px, py) {
    const [left, top, right, bottom] = this.edges();
    if (px < left || px > right || py < top || py > bottom) return false;
    let inside = false;
    for (const ring of this.rings) {
      let [x, y] = ring;
      const [startX, startY] = ring;
      for (let at = 2; at <= ring.length; at += 2) {
        const last = at >= ring.length;
        const nextX = last ? startX : x + ring[at];
        const nextY = last ? startY : y + ring[at + 1];
        if (y > py !== nextY > py && px < ((nextX - x) * (py - y)) / (nextY - y) + x) inside = !inside;
        [x, y] = [nextX, nextY];
      }
    }
    return inside;
  }
}

function edgesOf(rings) {
  let [left, top, right, bottom] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const ring of rings) {
    let [x, y] = [0, 0];
    for (let at = 0; at + 1 < ring.length; at += 2) {
      x += ring[at];
      y += ring[at + 1];
      left = Math.min(left, x);
      right = Math.max(right, x);
      top = Math.min(top, y);
      bottom = Math.max(bottom, y);
    }
  }
  return [left, top, right, bottom];
}

/** The coarsest step that still looks sharp: a power of two of plane units, about half a pixel. */
export const stepFor = (perPixel) => 2 ** Math.max(0, Math.floor(Math.log2(perPixel / 2)));
