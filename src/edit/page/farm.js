// The fields of the folder with their state: unfinished, open, ready, written. Asked for once, and again after each change.

import { aloud, showFault } from "./aloud.js";
import { get, post } from "./engine.js";
import { make } from "./make.js";
import { performing } from "./field.js";
import { open, written } from "./state.js";
import { count, say, sayIfAny } from "./words.js";

let farm = null;
let again = () => {};

export function whenFarmCame(then) {
  again = then;
}

/** Asks which jobs the folder has. */
export async function lookAtFarm() {
  try {
    // Whoever looks at all fields wants to know how far each is.
    farm = await get(window.location.hash === "#farm" ? "/jobs?plan=true" : "/jobs");
  } catch {
    farm = null; // The page works on one job all the same.
  }
  again();
}

/** What was told last: { folder, of_folder, jobs, undo }; null where nothing was. */
export const farmNow = () => farm;

/** Whether there is more than one field to be looked at together. */
export const isFarm = () => (farm?.jobs.length ?? 0) > 1;

export const nameOfJob = (job) => job.field || job.name || job.file;
export const stateOf = (state) => sayIfAny(`farm.is_${state}`) ?? state;

/** The state of a field as a word in a frame of its own form and colour. */
export const statePill = (job) => [make("span", { class: `pill small is-${job.state}` }, job.planning ? say("farm.is_planning") : stateOf(job.state)), job.open ? ` ${count("top.open", job.open)}` : ""];

/** Under Ground: that there are other fields, and the way to them. */
export function fieldsOfFolder() {
  if (!isFarm()) return null;
  return make("section", { class: "card" },
    make("h3", {}, count("farm.fields", farm.jobs.length)),
    make("p", { class: "soft" }, farm.folder),
    make("p", {}, make("a", { href: "./#farm", "data-key": "to farm" }, say("farm.to_all"))));
}

/** Under Ground, of a job that stands for many fields: the way to a job for each. */
export function splitCard() {
  const by = written(["field", "split_by"]);
  if (!by) return null;
  return make("section", { class: "card" },
    make("h3", {}, say("farm.job_of_many")),
    make("p", {}, say("farm.split_is", { by })),
    make("button", { type: "button", class: "main", "data-key": "split", onclick: split }, say("farm.split")));
}

async function split() {
  const took = await performing(async () => {
    const { files, kept } = await post("/split");
    aloud(count("farm.split_done", files.length, { kept }));
  });
  if (!took) return;
  window.location.hash = "farm";
  await lookAtFarm();
}

/** Opens the job of a field. */
export async function openField(file) {
  try {
    await open(file);
    window.location.hash = "rates";
    await lookAtFarm();
  } catch (refused) {
    showFault(refused.fault ?? { found: say("page.lost"), place: {} });
  }
}
