// The fields of the folder with their state: unfinished, open, ready, written. Asked for once, and again after each change.

import { showFault } from "./aloud.js";
import { get } from "./engine.js";
import { make } from "./make.js";
import { open } from "./state.js";
import { count, say, sayIfAny } from "./words.js";

let farm = null;
let again = () => {};

export function whenFarmCame(then) {
  again = then;
}

/** Asks which jobs the folder has. */
export async function lookAtFarm() {
  try {
    farm = await get("/jobs");
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
export const statePill = (job) => [make("span", { class: `pill small is-${job.state}` }, stateOf(job.state)), job.open ? ` ${count("top.open", job.open)}` : ""];

/** Under Ground: that there are other fields, and the way to them. */
export function fieldsOfFolder() {
  if (!isFarm()) return null;
  return make("section", { class: "card" },
    make("h3", {}, count("farm.fields", farm.jobs.length)),
    make("p", { class: "soft" }, farm.folder),
    make("p", {}, make("a", { href: "./#farm", "data-key": "to farm" }, say("farm.to_all"))));
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
