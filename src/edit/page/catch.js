// What a place on the map is caught by: the engine says which corner or edge is near; the page asks and shows it.

import { get } from "./engine.js";
import { view } from "./maps.js";

const REACH = 12; // pixels around a place in which it is caught
let on = true;

export const catches = () => on;
export const setCatches = (whether) => { on = whether; };

/** The place that is meant, in units of the plane: { x, y, caught }, caught "corner", "edge" or "nothing"; with a `layer` by the
 * borders between its zones alone. */
export async function caughtAt({ x, y }, layer = null) {
  const [right, up] = [Math.round(x), Math.round(-y)];
  if (!on) return { x: right, y: -up, caught: "nothing" };
  const { at, caught } = await get(`/catch?x=${right}&y=${up}&within=${REACH * view.perPixel}${layer === null ? "" : `&layer=${encodeURIComponent(layer)}`}`);
  return { x: at[0], y: -at[1], caught };
}

/** Calls `then` with what the newest place is caught by, on `layerNow()`; while the engine is asked, only the newest one waits. */
export function follower(then, layerNow) {
  let asking = false;
  let next = null;
  return async (place) => {
    next = place;
    if (asking) return;
    asking = true;
    while (next) {
      const now = next;
      next = null;
      try {
        const found = await caughtAt(now, layerNow());
        if (!next) then(found);
      } catch {
        // The map is being worked out anew; the next move of the hand asks again.
      }
    }
    asking = false;
  };
}

/** Places as they travel: the first, then steps; y to the north. */
export function stepsOf(places) {
  const whole = places.map(({ x, y }) => [Math.round(x), Math.round(-y)]);
  return whole.flatMap(([x, y], nth) => (nth ? [x - whole[nth - 1][0], y - whole[nth - 1][1]] : [x, y]));
}
