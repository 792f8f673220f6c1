// Drawing on the maps, by pointer or crosshair: one place after the other, each caught by what is near. The same place once more,
// or the first corner of an outline, ends it; Escape takes the last place back.

import { aloud, faultText, hideFault, showFault } from "./aloud.js";
import { catches, caughtAt, follower, setCatches, stepsOf } from "./catch.js";
import { mapOf, useTool, view } from "./maps.js";
import { onState } from "./state.js";
import { say } from "./words.js";

const LEAST = { outline: 3, line: 2, place: 1, move: 2, run: 3 };
/** Of these so many places lie on a border; what comes after them says where it goes. */
const ON_BORDER = { move: 1, run: 2 };
const NEAR = 12; // pixels around the first corner in which an outline closes
const AGAIN = 3; // pixels around the last place in which it is meant once more

/** What is being drawn: { kind, shape, places, done, caught, then, back }; null where nothing is. */
let now = null;
const told = [];

/** Calls `then` whenever a drawing has begun, grown or ended. */
export const whenDrawn = (then) => told.push(then);

export const drawing = () => now;

function tell() {
  show();
  for (const then of told) then(now);
}

function show() {
  if (!now) {
    useTool(null);
    return;
  }
  useTool(pointed, now.places, { over: hovered, back, key, grab, caught: now.done ? null : now.caught, closed: now.done && now.shape === "outline", shape: now.shape });
}

/** Begins to draw a `kind` (its words are in the texts) with a `shape`: outline, line, place, move, run. `then(steps)` gets what a
 * place or a move is at once; the others wait for their names. */
export function beginDrawing(kind, shape, { then = null, about = null } = {}) {
  now = { kind, shape, places: [], done: false, caught: null, then, about };
  // The engine finds all corners and edges once, before the first hand is over one.
  caughtAt({ x: view.x, y: view.y }, layerNow()).catch(() => {});
  // On a narrow screen the maps are a part of their own.
  if (window.matchMedia("(max-width: 820px)").matches) window.location.hash = "maps";
  tell();
  setTimeout(() => mapOf(0)?.focus(), 50);
  aloud(say(`drawing.how_${shape}`));
}

export function endDrawing() {
  if (!now) return;
  now = null;
  tell();
}

export const stepsDrawn = () => stepsOf(now.places);
export const enough = () => now.places.length >= LEAST[now.shape];

/** Ends the line or closes the outline. */
export function finish() {
  if (!now || now.done || !enough()) return;
  now.done = true;
  now.caught = null;
  aloud(say(now.shape === "outline" ? "drawing.closed" : "drawing.ended"));
  const { then } = now;
  tell();
  if (then) then(stepsDrawn());
}

/** Takes the last place back; without any, the drawing ends. */
export function back() {
  if (!now) return false;
  if (now.done) now.done = false;
  else if (now.places.length) now.places.pop();
  else {
    endDrawing();
    aloud(say("drawing.none"));
    return true;
  }
  aloud(say("drawing.taken_back", { count: now.places.length }));
  tell();
  return true;
}

/** A border that is moved is one of its layer; where it goes may be anything. */
const layerNow = () => (now && now.places.length < (ON_BORDER[now.shape] ?? 0) ? now.about.layer : null);

const same = (one, other) => one && one.x === other.x && one.y === other.y;
const pixels = (one, other) => Math.hypot(one.x - other.x, one.y - other.y) / view.perPixel;

// One place after the other, in the order in which they were pointed at.
let last = Promise.resolve();
function pointed(place) {
  last = last.then(() => take(place));
}

async function take(place) {
  if (!now || now.done) return;
  try {
    const found = await caughtAt(place, layerNow());
    if (!now || now.done) return;
    const { places } = now;
    const closes = now.shape === "outline" && enough() && pixels(place, places[0]) <= NEAR;
    const again = places.length > 0 && pixels(place, places.at(-1).meant) <= AGAIN;
    if (closes || again) {
      if (enough()) finish();
      return;
    }
    if (same(places.at(-1), found)) {
      aloud(say("drawing.same"));
      return;
    }
    places.push({ ...found, meant: place });
    hideFault();
    if (now.shape === "place" || (now.shape in ON_BORDER && enough())) {
      finish();
      return;
    }
    aloud(`${say("drawing.place_nth", { nth: places.length })} ${say(`drawing.caught_${found.caught}`)}`);
    tell();
  } catch (refused) {
    if (refused.fault) aloud(faultText(refused.fault));
    else showFault({ found: say("page.lost"), place: {} });
  }
}

const follow = follower((found) => {
  if (!now || now.done) return;
  const before = now.caught;
  now.caught = found;
  // What the crosshair has come upon is said; what it has left is not.
  if (found.caught !== "nothing" && before?.caught !== found.caught) aloud(say(`drawing.caught_${found.caught}`));
  show();
}, () => layerNow());

/** The hand is over a place, or nowhere. */
function hovered(place) {
  if (!now || now.done) return;
  if (place) follow(place);
  else if (now.caught) {
    now.caught = null;
    show();
  }
}

/** Whether a drag from here takes a corner of a border along. */
const grab = (place) => now.shape === "move" && !now.places.length && (now.caught?.caught ?? "nothing") !== "nothing" && pixels(place, now.caught) <= NEAR;

/** A key on the map that only drawing knows. */
function key(name) {
  if (name.toLowerCase() !== "c") return false;
  toggleCatch();
  return true;
}

// Places of one job mean nothing in another.
onState((next, before) => { if (now && next.job?.file !== before?.job?.file) endDrawing(); });

// While places are being drawn, undo is theirs; before the first and after the last it is the job's.
document.addEventListener("keydown", (event) => {
  const undo = (event.ctrlKey || event.metaKey) && !event.shiftKey && !event.altKey && event.key.toLowerCase() === "z";
  if (!undo || !now?.places.length || now.done || event.target.matches?.("input, textarea")) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  back();
}, true);

export function toggleCatch() {
  setCatches(!catches());
  now.caught = null;
  aloud(say(catches() ? "drawing.catch_on" : "drawing.catch_off"));
  tell();
}
