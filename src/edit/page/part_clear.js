// Keep clear: land that is left out, distances from water, and places with a rate of their own.

import { beginDrawing } from "./drawing.js";
import { drawButton } from "./drawing_panel.js";
import { field, perform } from "./field.js";
import { make } from "./make.js";
import { state, written } from "./state.js";
import { say } from "./words.js";

const FROM = ["top_of_bank", "edge_of_water", "centre_of_watercourse", "well_or_spring", "field_border"];

export function clear({ plan }) {
  return [
    make("p", { class: "caution" }, say("clear.caution")),
    kind("exclusion", (entry, nth) => [
      field({ path: ["exclusion", nth, "name"], kind: "text" }),
      field({ path: ["exclusion", nth, "buffer_m"] }),
      field({ path: ["exclusion", nth, "water"], kind: "yes_no" }),
    ]),
    kind("setback", (entry, nth) => [
      field({ path: ["setback", nth, "name"], kind: "text" }),
      field({ path: ["setback", nth, "distance_m"] }),
      field({ path: ["setback", nth, "measured_from"], kind: "choice", choices: FROM.map((from) => [from, say(`measured_from.${from}`)]) }),
      make("p", { class: "soft" }, say("clear.off", { products: namesOf(entry.products ?? []) })),
    ]),
    kind("special_area", (entry, nth) => [
      field({ path: ["special_area", nth, "name"], kind: "text" }),
      ...(plan?.products ?? []).map((product) => field({ path: ["special_area", nth, "percent", product.id], label: say("clear.percent", { name: product.name }), unit: "%" })),
    ]),
    make("p", { class: "hint" }, say("clear.add"), " ", make("a", { href: "#ground" }, say("parts.ground"))),
  ];
}

function namesOf(ids) {
  const products = written(["product"]) ?? [];
  return ids.map((id) => products.find((product) => product.id === id)?.name ?? id).join(", ");
}

/** What each list is drawn as. */
const DRAWN = { exclusion: ["exclusion", "outline"], setback: ["strip", "line"], special_area: ["place", "outline"] };
/** Without a map there is nothing to draw on. */
const isPlanned = () => Boolean(state()?.plan);

function kind(table, fields) {
  const entries = written([table]) ?? [];
  const [drawn, shape] = DRAWN[table];
  return make("section", {},
    make("h3", {}, say(`clear.${table}`)),
    make("p", { class: "soft" }, say(`clear.${table}_is`)),
    entries.length ? entries.map((entry, nth) => make("div", { class: "card" },
      ...fields(entry, nth),
      make("div", { class: "ways" }, make("span", { class: "soft" }, say("clear.from", { file: entry.source?.file ?? "–" })),
        make("button", { type: "button", "data-key": `remove ${table} ${nth}`, onclick: () => perform({ do: "remove", table, nth }, say("ground.removed", { name: entry.name })) }, say("ground.remove")))))
      : make("p", {}, say("clear.none")),
    isPlanned() ? drawButton(drawn, () => beginDrawing(drawn, shape)) : null);
}
