// All fields of the folder on one map: each with its name, hectares and state, told by hatch and word as well as by colour.

import { aloud } from "./aloud.js";
import { nameOfJob, stateOf } from "./farm.js";
import { swatch } from "./hatch.js";
import { CHOSEN, LandMap } from "./land_map.js";
import { make } from "./make.js";
import { around, flipped } from "./scene.js";
import { Shape } from "./shapes.js";
import { say } from "./words.js";

/** How a state looks: a colour, a hatch where something is still to be done, and the line around it. */
const LOOKS = {
  faulty: { fill: "#f3c6b6", hatch: "out", wide: 2 },
  unfinished: { fill: "#ffffff", hatch: "off", wide: 1.2, dash: [6, 4] },
  unplanned: { fill: "#eef1ef", wide: 1.2, dash: [6, 4] },
  open: { fill: "#fbe3b4", hatch: "clear", wide: 1.6 },
  ready: { fill: "#b9dfd0", wide: 1.6 },
  written: { fill: "#7fbfa6", wide: 3 },
};

let map = null;
let fieldAt = () => null;
let point = () => {};
let kept = { of: "", shapes: [] };

/** `turn(job)`: chooses a field or leaves it out. */
export function farmMap(jobs, chosen, turn) {
  const drawn = jobs.filter((job) => job.rings?.length);
  if (!drawn.length) return make("p", { class: "nothing" }, say("farm.no_map"));
  const of = JSON.stringify(drawn.map((job) => [job.file, job.rings.length, job.rings[0].slice(0, 6), job.m2]));
  if (kept.of !== of) kept = { of, shapes: drawn.map((job) => new Shape(flipped(job.rings))) };
  const fields = drawn.map((job, nth) => ({ job, shape: kept.shapes[nth] }));
  map ??= new LandMap({ key: "farm map", told: (place) => point(place), read: (place) => aloud(wordsAt(place)) });
  fieldAt = (place) => map.nearest(fields, place)?.job ?? null;
  point = (place) => {
    const job = fieldAt(place);
    if (job) turn(job);
    else aloud(say("begin.map_empty"));
  };
  const things = fields.map(({ job, shape }) => ({ shape, line: "#26302f", ...LOOKS[job.state] }));
  const marks = fields.filter(({ job }) => chosen.has(job.file)).map(({ shape }) => ({ shape, ...CHOSEN }));
  const names = fields.map(({ job, shape }) => {
    const { x, y, width, height } = shape.extent();
    return { text: nameOfJob(job), lines: [nameOfJob(job), job.area_text, stateOf(job.state)], x: x + width / 2, y: y + height / 2, room: Math.min(width, height) / 2 };
  });
  map.show(say("farm.map"), around(kept.shapes), [...things, ...names, ...marks]);
  const states = Object.keys(LOOKS).filter((state) => jobs.some((job) => job.state === state));
  return make("div", { class: "farm-map" },
    map.element,
    make("ul", { class: "keys", "aria-label": say("farm.state") }, states.map((state) => make("li", {}, swatch(LOOKS[state].fill, LOOKS[state].hatch), stateOf(state)))),
    make("p", { class: "soft" }, say("farm.map_hint")));
}

function wordsAt(place) {
  const job = fieldAt(place);
  return job ? [nameOfJob(job), job.area_text, stateOf(job.state)].filter(Boolean).join(", ") : say("begin.map_empty");
}

