// The spreader: the machine that broadcasts what is left, and what comes of it.

import { field, perform } from "./field.js";
import { make } from "./make.js";
import { showOthers, shown } from "./maps.js";
import { state, written } from "./state.js";
import { say } from "./words.js";

const LIMITS = ["min", "max", "label_max", "step"];

/** Its card, with a button where the job names none; `again()` shows the part anew. */
export function spreaderCard(plan, again) {
  if (!written(["spreader"])) {
    const placed = (written(["product"]) ?? []).some(({ kind, surface_applied: spread }) => kind === "fertiliser" && !spread);
    if (!placed) return null;
    return card(make("p", { class: "soft" }, say("spreader.is")),
      make("button", { type: "button", "data-key": "add spreader", onclick: () => perform({ do: "set", path: ["spreader"], value: { working_width_m: "?" } }, say("list.added")) }, say("spreader.add")));
  }
  const at = (key, more = {}) => field({ path: ["spreader", key], ...more });
  return card(
    make("p", { class: "soft" }, say("spreader.is")),
    at("name", { kind: "text" }), at("working_width_m"), at("throw_m"), at("spreading_date", { kind: "date" }),
    limits(),
    make("details", { "data-key": "spreader more" }, make("summary", { "data-key": "spreader more summary" }, say("list.more")),
      at("position_error_m"), at("run_on_m"), at("cell_m"),
      at("units", { kind: "choice", choices: ["metric", "us_customary"].map((one) => [one, say(`spreader.${one}`)]) })),
    (plan?.spread ?? []).map((map) => told(map)),
    make("div", { class: "ways" },
      plan?.spread?.length ? make("button", { type: "button", "data-key": "spreader on map", "aria-pressed": String(shown.balance), onclick: turn(again) }, say(shown.balance ? "spreader.hide" : "spreader.show")) : null,
      make("button", { type: "button", "data-key": "remove spreader", onclick: () => perform({ do: "unset", path: ["spreader"] }, say("ground.removed", { name: say("spreader.title") })) }, say("ground.remove"))));
}

const turn = (again) => () => {
  shown.balance = !shown.balance;
  showOthers();
  again();
};

const card = (...inside) => make("section", { class: "card" }, make("h3", {}, say("spreader.title")), ...inside);

/** In pounds per acre where the job has them so, or where it has none and people read pounds. */
function limits() {
  const us = written(["spreader", "limits_lb_per_acre"]) !== undefined || (written(["spreader", "limits"]) === undefined && state().units.system === "us_customary");
  return LIMITS.map((key) => field({
    path: us ? ["spreader", "limits_lb_per_acre", key] : ["spreader", "limits", `${key}_kg_per_ha`],
    label: say(`spreader.${key}`), unit: us ? "lb/ac" : "kg/ha",
  }));
}

/** One map of the spreader in words. */
function told(map) {
  const range = map.lowest_text === map.highest_text ? map.lowest_text : `${map.lowest_text} – ${map.highest_text}`;
  return make("dl", { class: "facts" },
    [["map", map.name], ["rates", `${range} ${map.rate_unit}`], ["spreads", map.map_text], ["plan", `${map.plan} (${map.folder})`]].map(([key, text]) => make("div", {}, make("dt", {}, say(`spreader.is_${key}`)), make("dd", {}, text))),
    map.held_back ? make("div", {}, make("dt", {}, say("spreader.held_back")), make("dd", {}, make("a", { href: "#settle" }, say("handover.to_settle")))) : null);
}
