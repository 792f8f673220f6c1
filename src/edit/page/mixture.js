// Two seeds sown at once: a main crop and its companion, each at a share of its own full rate.

import { field, perform } from "./field.js";
import { lookupFields } from "./lookup.js";
import { make } from "./make.js";
import { written } from "./state.js";
import { say } from "./words.js";

/** The form, where the job has two seeds for it; a button where they are not tied. */
export function mixtureCard() {
  const seeds = (written(["product"]) ?? []).filter(({ kind }) => kind === "seed").map(({ id, name }) => [id, name ?? id]);
  const mixture = written(["mixture"]);
  if (!mixture && seeds.length < 2) return null;
  const title = make("h3", {}, say("mixture.title"));
  const hint = make("p", { class: "soft" }, say("mixture.is"));
  if (!mixture) {
    const value = { main: seeds[0][0], companion: seeds[1][0], series: "additive", companion_percent: "?" };
    return make("section", { class: "card" }, title, hint,
      make("button", { type: "button", "data-key": "add mixture", onclick: () => perform({ do: "set", path: ["mixture"], value }, say("list.added")) }, say("mixture.add")));
  }
  return make("section", { class: "card" }, title, hint,
    field({ path: ["mixture", "main"], kind: "choice", choices: seeds, label: say("mixture.main") }),
    field({ path: ["mixture", "companion"], kind: "choice", choices: seeds, label: say("mixture.companion") }),
    field({ path: ["mixture", "series"], kind: "choice", choices: ["additive", "replacement"].map((one) => [one, say(`mixture.${one}`)]), label: say("mixture.series") }),
    lookupFields(["mixture", "companion_percent"], { label: say("mixture.companion_percent"), unit: "%" }),
    mixture.series === "additive" || mixture.main_percent !== undefined ? lookupFields(["mixture", "main_percent"], { label: say("mixture.main_percent"), unit: "%" }) : null,
    make("button", { type: "button", "data-key": "remove mixture", onclick: () => perform({ do: "unset", path: ["mixture"] }, say("ground.removed", { name: say("mixture.title") })) }, say("ground.remove")));
}
