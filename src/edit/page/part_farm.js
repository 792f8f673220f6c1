// The farm: all fields of the folder on one map with their state, a list that goes with it, one order over them, and the
// same change for many.

import { aloud, showFault, hideFault } from "./aloud.js";
import { post } from "./engine.js";
import { farmNow, lookAtFarm, nameOfJob, openField, stateOf, statePill } from "./farm.js";
import { farmMap } from "./farm_map.js";
import { sameChange } from "./farm_many.js";
import { make } from "./make.js";
import { count, say } from "./words.js";

const chosen = new Set(); // names of job files
let order = null;
let ordering = false;
let again = () => {};

export function whenFarmChanges(then) {
  again = then;
}

export function farmPart() {
  const farm = farmNow();
  if (!farm) return [make("p", { class: "hint" }, say("farm.none"))];
  const known = new Set(farm.jobs.map(({ file }) => file));
  for (const file of [...chosen]) if (!known.has(file)) chosen.delete(file);
  const states = ["faulty", "unfinished", "unplanned", "open", "ready", "written"].map((state) => [state, farm.jobs.filter((job) => job.state === state).length]).filter(([, many]) => many);
  return [
    make("p", { class: "hint" }, say("farm.hint")),
    farm.jobs.some(({ planning }) => planning) ? make("p", { class: "hint", "data-key": "farm planning" }, count("farm.to_plan", farm.jobs.filter(({ state }) => state === "unplanned").length)) : null,
    make("p", {}, states.map(([state, many]) => `${many} ${stateOf(state)}`).join(" · ")),
    make("div", { class: "farm-both" },
      farmMap(farm.jobs, chosen, turn),
      make("div", {}, list(farm.jobs))),
    make("div", { class: "farm-both" }, orderCard(farm.jobs), sameChange(farm, picked(farm.jobs), () => again())),
  ];
}

/** The chosen fields; all where none is chosen. */
const picked = (jobs) => (chosen.size ? jobs.filter(({ file }) => chosen.has(file)) : jobs);

/** Chooses a field for what is done with many, or leaves it out again. */
function turn(job) {
  const is = !chosen.delete(job.file);
  if (is) chosen.add(job.file);
  aloud(say(is ? "begin.is_chosen" : "begin.not_chosen", { name: nameOfJob(job) }));
  again();
}

function list(jobs) {
  const all = jobs.every(({ file }) => chosen.has(file));
  return make("div", { class: "scroll farm-list", tabindex: "0", role: "region", "aria-label": say("farm.list") }, make("table", { class: "farm" },
    make("thead", {}, make("tr", {},
      make("th", { scope: "col" }, make("label", { class: "check" }, make("input", { type: "checkbox", "data-key": "farm all", checked: all, onchange: () => { for (const { file } of jobs) if (all) chosen.delete(file); else chosen.add(file); again(); } }), make("span", { class: "quiet" }, say("farm.choose_all")))),
      make("th", { scope: "col" }, say("farm.field")), make("th", { scope: "col", class: "number" }, say("farm.area")), make("th", { scope: "col" }, say("farm.state")))),
    make("tbody", {}, jobs.map((job) => make("tr", { class: job.current ? "current" : null },
      make("td", {}, make("label", { class: "check" }, make("input", { type: "checkbox", "data-key": `farm choose ${job.file}`, checked: chosen.has(job.file), onchange: () => turn(job) }), make("span", { class: "quiet" }, say("farm.choose", { name: nameOfJob(job) })))),
      make("th", { scope: "row" }, make("button", { type: "button", class: "link", "data-key": `open ${job.file}`, "aria-current": job.current ? "true" : null, onclick: () => openField(job.file) }, make("bdi", {}, nameOfJob(job))), make("small", {}, job.file)),
      make("td", { class: "number" }, job.area_text ?? "–"),
      make("td", {}, statePill(job)))))));
}

function orderCard(jobs) {
  const of = picked(jobs);
  return make("section", { class: "card" },
    make("h3", {}, say("farm.order")),
    make("p", { class: "soft" }, say("farm.order_hint")),
    make("button", { type: "button", "data-key": "farm order", "aria-disabled": ordering ? "true" : null, onclick: () => work(of) }, ordering ? say("farm.ordering") : count("farm.order_now", of.length)),
    order ? orderTable(order) : null);
}

async function work(jobs) {
  if (ordering) return;
  ordering = true;
  again();
  try {
    order = await post("/order", { files: jobs.map(({ file }) => file) });
    hideFault();
    aloud(count("farm.ordered", order.plans.length));
  } catch (refused) {
    order = null;
    showFault(refused.fault ?? { found: say("page.lost"), place: {} });
  }
  ordering = false;
  // They were planned for it: how far each of them is, is known now.
  await lookAtFarm();
  again();
}

const grouped = (number) => Math.round(number).toLocaleString("en").replaceAll(",", "\u00a0");

function orderTable({ plans, order: lines, mass_unit: unit }) {
  const open = plans.filter((plan) => plan.to_decide > 0);
  const packs = ({ packs: many, article, pack_text: pack }) => (many === null ? "–" : `${many} × ${article.seeds_per_pack ? say("farm.seeds", { count: grouped(article.seeds_per_pack) }) : pack}`);
  return make("div", {},
    make("p", {}, count("farm.ordered", plans.length)),
    make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": say("farm.order") }, make("table", { "data-key": "farm order list" },
      make("thead", {}, make("tr", {}, ["product", "lot", "packs", "mass"].map((key) => make("th", { scope: "col", class: ["packs", "mass"].includes(key) ? "number" : null }, say(`farm.${key}`, { unit }))))),
      make("tbody", {}, lines.map((line) => make("tr", {},
        make("th", { scope: "row" }, make("bdi", {}, line.article.product), make("small", {}, [line.article.dressing, ...line.needs.map((need) => need.field)].filter(Boolean).join(", "))),
        make("td", {}, line.article.lot ?? "–"),
        make("td", { class: "number" }, packs(line)),
        make("td", { class: "number" }, line.article.seeds_only ? "–" : line.order_text)))))),
    open.length ? make("p", { class: "warn" }, say("farm.order_open", { names: open.map((plan) => plan.field).join(", ") })) : null,
    make("p", { class: "soft" }, say("farm.order_note")));
}

