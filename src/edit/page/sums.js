// What it all comes to: kilograms, packs, land held down, and what is left to broadcast.

import { make } from "./make.js";
import { seenName } from "./seedbeds.js";
import { say } from "./words.js";

export function sums(root, { plan, units }) {
  if (!plan) {
    root.replaceChildren();
    return;
  }
  const late = !plan.whole || !plan.current;
  const fact = (key, text, waits = false) => make("div", {}, make("dt", {}, say(`sums.${key}`)),
    make("dd", {}, text, waits && late ? make("small", {}, ` ${say("sums.late")}`) : null));
  const card = (of, what, facts) => make("section", { class: "sum" }, make("h4", {}, make("bdi", {}, of.name), make("small", {}, what)),
    make("dl", { class: "facts" }, facts, fact("map", of.map_text), fact("order", of.order_text ?? say("sums.not_yet"), true), of.pack_text ? fact("packs", of.pack_text, true) : null));
  const range = ({ lowest_text: low, highest_text: high }) => `${low === high ? low : `${low} – ${high}`} ${units.rate}`;
  root.replaceChildren(
    make("h3", {}, [say("sums.title", { area: plan.area_text }), seenName(plan)].filter(Boolean).join(" · ")),
    make("div", { class: "sums" },
      plan.products.map((product) => card(product, say("sums.hopper", { hopper: product.hopper }),
        [fact("rate", range(product)), product.held_m2 > 0 ? fact("held", product.held_text) : null])),
      plan.balances.map((balance) => card(balance, say("sums.left"), []))));
}
