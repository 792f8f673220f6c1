// What limits fertiliser beside the seed: published tables, and numbers that somebody signs where no table covers the case.

import { choices } from "./choices.js";
import { field } from "./field.js";
import { listForm } from "./list_form.js";
import { make } from "./make.js";
import { written } from "./state.js";
import { say } from "./words.js";

const known = (entries) => Object.fromEntries(Object.entries(entries).filter(([, value]) => value !== undefined && value !== null));

export function besideSeed() {
  const products = written(["product"]) ?? [];
  const placed = products.filter(({ kind, surface_applied: spread }) => kind === "fertiliser" && !spread);
  if (!placed.length && !written(["seed_safe"]) && !written(["own_seed_limit"])) return [];
  const seed = products.find(({ kind }) => kind === "seed");
  const tables = (choices().seed_safe_tables ?? []).map((name) => [name, name.replaceAll("_", " ")]);
  const fertilisers = placed.map(({ id, name }) => [id, name ?? id]);
  return [
    make("section", { class: "card" }, make("h3", {}, say("seedbeds.moisture")), field({ path: ["seedbed"], kind: "choice", choices: ["moist", "dry", "not_known"].map((one) => [one, say(`seedbeds.is_${one}`)]), help: make("span", {}, say("seedbeds.moisture_is")) })),
    listForm({
      title: say("list.seed_safe"), hint: say("list.seed_safe_is"), path: ["seed_safe"],
      keys: [["table", { kind: "choice", choices: tables }], ["crop", { kind: "text" }], ["spread_m"], ["texture", { kind: "text" }], ["dry", { kind: "yes_no" }]],
      entry: () => known({ table: "?", crop: seed?.crop ?? "?", spread_m: written(["drill", "opener_spread_m"]) === undefined ? "?" : undefined, texture: "?" }),
      name: (one, nth) => (one.table && one.table !== "?" ? one.table.replaceAll("_", " ") : say("list.nth", { nth: nth + 1 })),
      add: say("list.add_seed_safe"),
    }),
    listForm({
      title: say("list.own_seed_limit"), hint: say("list.own_seed_limit_is"), path: ["own_seed_limit"],
      keys: [["product", { kind: "choice", choices: fertilisers, label: say("list.fertiliser") }], ["max_kg_per_ha", { label: say("list.most") }], ["crop", { kind: "text" }], ["row_spacing_m"], ["spread_m"], ["texture", { kind: "text" }], ["because", { kind: "text" }], ["by", { kind: "text" }], ["on", { kind: "date" }]],
      entry: () => known({
        product: placed[0]?.id ?? "?", max_kg_per_ha: "?", crop: seed?.crop, row_spacing_m: written(["drill", "row_spacing_m"]),
        form: placed[0]?.form, grade: placed[0]?.grade, because: "?", by: "?", on: "?",
      }),
      name: (one, nth) => `${products.find(({ id }) => id === one.product)?.name ?? say("list.nth", { nth: nth + 1 })}`,
      add: say("list.add_own_seed_limit"),
    }),
    make("p", { class: "caution" }, say("list.seed_caution")),
  ];
}
