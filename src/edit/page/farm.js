// The fields of the folder with their state: unfinished, open, ready, written.

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

export function fieldsOfFolder() {
  if (!farm || farm.jobs.length < 2) return null;
  const areas = farm.jobs.some((job) => job.area_text);
  return make("section", { class: "card" },
    make("h3", {}, count("farm.fields", farm.jobs.length)),
    make("p", { class: "soft" }, farm.folder),
    make("table", { class: "farm" },
      make("thead", {}, make("tr", {}, ["field", areas ? "area" : null, "state"].filter(Boolean).map((key) => make("th", { scope: "col" }, say(`farm.${key}`))))),
      make("tbody", {}, farm.jobs.map((job) => line(job, areas)))));
}

function line(job, areas) {
  const name = job.field || job.name || job.file;
  return make("tr", { class: job.current ? "current" : null },
    make("th", { scope: "row" }, job.current
      ? make("b", { "aria-current": "true" }, name)
      : make("button", { type: "button", class: "link", "data-key": `open ${job.file}`, onclick: () => change(job.file) }, name),
    make("small", {}, job.file)),
    areas ? make("td", { class: "number" }, job.area_text ?? "–") : null,
    make("td", {}, make("span", { class: `pill small is-${job.state}` }, sayIfAny(`farm.is_${job.state}`) ?? job.state), job.open ? ` ${count("top.open", job.open)}` : ""));
}

async function change(file) {
  try {
    await open(file);
    await lookAtFarm();
  } catch (refused) {
    showFault(refused.fault ?? { found: say("page.lost"), place: {} });
  }
}
