// Trials: strips along the bouts with rates of their own. The form, and what is laid out: what it can see, what it takes, its plots.

import { choices } from "./choices.js";
import { listForm } from "./list_form.js";
import { make } from "./make.js";
import { chooseShapes, showOthers, shown } from "./maps.js";
import { flipped } from "./scene.js";
import { Shape } from "./shapes.js";
import { written } from "./state.js";
import { count, say } from "./words.js";

const DESIGNS = ["map_against_flat", "with_and_without", "flat_stamps", "rates"];

/** Keys that go with a design, beside those that all have. */
const OF_DESIGN = {
  map_against_flat: ["product", "flat_kg_per_ha"],
  flat_stamps: ["product", "flat_kg_per_ha"],
  rates: ["product", "rates_kg_per_ha"],
  with_and_without: ["product", "seed", "seed_rates_apart_percent"],
};

export function trialCards(plan, again) {
  const products = (written(["product"]) ?? []).filter(({ surface_applied: spread }) => !spread);
  if (!products.length && !written(["trial"])) return [];
  const named = (which) => products.filter(which).map(({ id, name }) => [id, name ?? id]);
  const areas = (written(["special_area"]) ?? []).map(({ name }) => [name, name]);
  const words = (key, all) => ({ kind: "choice", choices: all.map((one) => [one, say(`trials.${key}_${one}`)]) });
  const about = {
    product: { kind: "choice", choices: named(() => true), label: say("trials.product") },
    seed: { kind: "choice", choices: named(({ kind }) => kind === "seed"), label: say("trials.seed") },
    here: { kind: "choice", choices: areas, label: say("trials.here") },
    flat_kg_per_ha: { label: say("trials.flat") },
    rates_kg_per_ha: { kind: "numbers", label: say("trials.rates_of"), unit: "kg/ha" },
  };
  const common = [["name", { kind: "text" }], ["design", words("design", DESIGNS)]];
  const more = (one) => [
    ["header_width_m"], ["blocks", { label: say("trials.blocks") }], ["length_m", { label: say("trials.length") }],
    ["place", words("place", ["spread", "least_cost"])], ...(areas.length || one.here ? [["here", about.here]] : []), ["order", words("order", ["random", "systematic"])], ["draw", { label: say("trials.draw") }],
    ["should_see_kg_per_ha"], ["plot_variation_kg_per_ha"],
  ];
  const keys = (one) => [...common, ...(OF_DESIGN[one.design] ?? []).map((key) => [key, about[key]]), ...more(one)].map(([key, has]) => [key, { help: helpOf(key), ...has }]);
  return [
    listForm({
      title: say("trials.title"), hint: say("trials.is"), path: ["trial"], keys,
      entry: () => ({ name: say("trials.first_name", { nth: (written(["trial"]) ?? []).length + 1 }), design: "map_against_flat", header_width_m: "?" }),
      name: (one, nth) => one.name ?? say("list.nth", { nth: nth + 1 }),
      add: say("trials.add"),
    }),
    ...(plan?.trials ?? []).map((trial, nth) => laidOut(trial, nth, again)),
  ];
}

/** What the job's schema says of a key that its name alone does not explain. */
function helpOf(key) {
  if (!["blocks", "length_m", "place", "here", "plot_variation_kg_per_ha", "should_see_kg_per_ha", "flat_kg_per_ha"].includes(key)) return null;
  const what = choices().fields?.[`trial.${key}`]?.what;
  return what ? make("span", { class: "soft" }, what.replaceAll("`", "")) : null;
}

/** A trial as it lies in the map. */
function laidOut(trial, nth, again) {
  const facts = [
    ["sees", trial.sees_text], ["should_see", trial.should_see_text],
    ["blocks", trial.needed === null ? String(trial.blocks) : say("trials.blocks_needed", { blocks: trial.blocks, needed: trial.needed })],
    ["strip", `${trial.strip_text} (${count("trials.bouts", trial.bouts)})`],
    ...trial.costs.map(({ name, text, money_text: money }) => ["takes", [name, text, money].filter(Boolean).join(", ")]),
  ];
  return make("section", { class: "card", "aria-labelledby": `trial-${nth}` },
    make("h3", { id: `trial-${nth}` }, make("bdi", {}, trial.name), make("small", {}, ` ${count("trials.plots", trial.plots.length)}`)),
    make("p", { class: trial.sees_enough ? "good" : "warn" }, say(trial.sees_enough ? "trials.sees_enough" : "trials.sees_too_little", { sees: trial.sees_text, should: trial.should_see_text })),
    make("dl", { class: "facts" }, facts.map(([key, text]) => make("div", {}, make("dt", {}, say(`trials.is_${key}`)), make("dd", {}, text)))),
    make("p", { class: "soft" }, say("trials.variation", { variation: trial.variation_text }), trial.variation_from ? ` ${trial.variation_from}.` : ""),
    make("button", {
      type: "button", "data-key": `trial ${nth} on map`, "aria-pressed": String(shown.trials), onclick: () => {
        shown.trials = !shown.trials;
        showOthers();
        again();
      },
    }, say(shown.trials ? "trials.hide" : "trials.show")),
    make("details", { "data-key": `trial ${nth} plots` }, make("summary", { "data-key": `trial ${nth} plots summary` }, say("trials.all_plots")), plotTable(trial, nth)));
}

function plotTable(trial, nth) {
  const names = trial.plots[0]?.rates.map(({ name }) => name) ?? [];
  return make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": say("trials.plots_of", { name: trial.name }) }, make("table", {},
    make("caption", {}, say("trials.plots_of", { name: trial.name })),
    make("thead", {}, make("tr", {}, ["plot", "treatment", "block"].map((key) => make("th", { scope: "col" }, say(`trials.${key}`))), names.map((name) => make("th", { scope: "col", class: "number" }, name)))),
    make("tbody", {}, trial.plots.map((plot) => make("tr", {},
      make("th", { scope: "row" }, make("button", { type: "button", class: "link", "data-key": `plot ${nth} ${plot.id}`, onclick: () => chooseShapes([new Shape(flipped([plot.ring]))]) }, plot.id)),
      make("td", {}, plot.treatment), make("td", {}, plot.block),
      plot.rates.map((rate) => make("td", { class: "number" }, rate.map_text)))))));
}
