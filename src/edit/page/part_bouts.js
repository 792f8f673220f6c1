// Bouts: the drill, the way it goes over the field, and the sprayer's tramlines.

import { beginDrawing } from "./drawing.js";
import { drawButton } from "./drawing_panel.js";
import { field, perform } from "./field.js";
import { rotors } from "./list_form.js";
import { make } from "./make.js";
import { showOthers, shown } from "./maps.js";
import { spreaderCard } from "./spreader_form.js";
import { state, written } from "./state.js";
import { get } from "./engine.js";
import { trialCards } from "./trials.js";
import { count, say } from "./words.js";

let drive = null;
let asked = null;
let again = () => {};

export function whenDriven(then) {
  again = then;
}

export function bouts({ plan }) {
  if (plan?.drive && asked !== plan.drive) ask(plan.drive);
  const hoppers = written(["drill", "hopper"]) ?? [];
  return [
    driven(plan),
    make("section", { class: "card" },
      make("h3", {}, say("bouts.drill")),
      field({ path: ["drill", "name"], kind: "text" }),
      ["working_width_m", "rows", "row_spacing_m", "speed_km_per_h", "headland_speed_km_per_h", "fastest_speed_km_per_h", "max_flow_kg_per_min", "fan_rpm", "opener_spread_m"].map((key) => field({ path: ["drill", key] }))),
    ...hoppers.map((hopper, nth) => make("section", { class: "card" },
      make("h3", {}, say("sums.hopper", { hopper: hopper.name ?? nth + 1 })),
      ["usable_l", "residue_l", "min_level_l"].map((key) => field({ path: ["drill", "hopper", nth, key] })))),
    ...hoppers.map(rotors),
    make("section", { class: "card" },
      make("h3", {}, say("bouts.way")),
      field({ path: ["drive", "heading"], kind: "choice", choices: ["longest_edge", "fewest_turns"].map((one) => [one, say(`bouts.${one}`)]) }),
      field({ path: ["drive", "heading_deg"] }),
      written(["drive", "along"]) ? make("p", { class: "soft" }, say("bouts.along", { file: written(["drive", "along", "file"]) ?? "–" }), " ",
        make("button", { type: "button", class: "link", "data-key": "remove along", onclick: () => perform({ do: "unset", path: ["drive", "along"] }, say("bouts.along_gone")) }, say("ground.remove"))) : null,
      plan ? drawButton("guide", () => beginDrawing("guide", "line")) : null,
      field({ path: ["headland", "bouts"] }),
      field({ path: ["drive", "headland"], kind: "choice", choices: ["first", "last"].map((one) => [one, say(`bouts.headland_${one}`)]) }),
      field({ path: ["drive", "field_efficiency_percent"] })),
    make("section", { class: "card" },
      make("h3", {}, say("bouts.tramlines")),
      ["sprayer_width_m", "track_width_m", "tyre_width_m"].map((key) => field({ path: ["tramline", key] }))),
    spreaderCard(plan, () => again()),
    ...trialCards(plan, () => again()),
  ];
}

async function ask(nth) {
  asked = nth;
  try {
    drive = await get(`/drive/${nth}`);
  } catch {
    drive = null; // A newer one is on its way.
  }
  if (state()?.plan?.drive === nth) again();
}

function driven(plan) {
  if (!plan) return null;
  if (!plan.drive || !drive) return make("p", { class: "hint" }, say(state().work.stage === "none" ? "bouts.none" : "bouts.soon"));
  const facts = [["bouts", String(drive.bouts)], ["heading", drive.heading_text], ["length", drive.length_text], ["hours", drive.hours_text]].filter(([, text]) => text);
  return make("section", { class: "card" },
    make("h3", {}, say("bouts.driven")),
    make("dl", { class: "facts" }, facts.map(([key, text]) => make("div", {}, make("dt", {}, say(`bouts.is_${key}`)), make("dd", {}, text)))),
    drive.refills.length ? [make("h4", {}, say("bouts.refills")), make("ol", {}, drive.refills.map(stopLine))] : make("p", { class: "soft" }, say("bouts.no_refill")),
    make("button", {
      type: "button", "data-key": "bouts on map", "aria-pressed": String(shown.bouts), onclick: () => {
        shown.bouts = !shown.bouts;
        showOthers();
        again();
      },
    }, say(shown.bouts ? "bouts.hide" : "bouts.show")));
}

/** When a stop is, and what goes into each hopper there. */
function stopLine({ after_bout: after, fills, away }) {
  const when = after ? say("bouts.after", { bout: after }) : say("bouts.before");
  const filled = fills.filter(({ is_filled: filled }) => filled).map(({ hopper, fill_text: fill, packs }) => say("bouts.fill", { hopper, fill }) + (packs ? ` (${count("bouts.packs", packs)})` : ""));
  return make("li", {}, `${when}: ${filled.join(", ")}`, away ? make("small", { class: "warn" }, ` ${say("bouts.away")}`) : null);
}
