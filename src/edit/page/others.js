// Settings that a part has no field for, but that are asked for: open ones, and those that settle a decision.

import { choices } from "./choices.js";
import { field, keyOf } from "./field.js";
import { find, make } from "./make.js";
import { nameOf, unitOf } from "./names.js";
import { state, written } from "./state.js";
import { say } from "./words.js";

/** A card with these fields, or null; `content`: what the part shows already. */
export function otherFields(content, isHere) {
  const { plan, open_settings: open } = state();
  const asked = [...open.map((setting) => setting.path), ...(plan?.decisions ?? []).filter((decision) => decision.open && decision.path).map((decision) => decision.path)];
  const shown = make("div", {}, content);
  const missing = asked.filter((path, nth) => isHere(path) && typeof (written(path) ?? "") !== "object"
    && !find(`[data-key="${CSS.escape(keyOf(path)).replaceAll("\\ ", " ")}"]`, shown)
    && asked.findIndex((other) => keyOf(other) === keyOf(path)) === nth);
  if (!missing.length) return null;
  return make("section", { class: "card" }, make("h3", {}, say("others.title")),
    missing.map((path) => field({ path, label: nameOf(path), unit: unitOf(path) ?? "", product: path[0] === "product" ? path[1] : undefined, ...kindOf(path) })));
}

/** What can be entered, by the schema of the job; a number by class stands below its key. */
function kindOf(path) {
  const keys = path.filter((key) => typeof key === "string");
  const by = keys.indexOf("by_class");
  const about = choices().fields?.[(by < 0 ? keys : keys.slice(0, by)).join(".")];
  if (about?.choices?.length) return { kind: "choice", choices: about.choices.map(([value]) => [value, String(value).replaceAll("_", " ")]) };
  const types = [about?.type].flat();
  if (types.includes("boolean")) return { kind: "choice", choices: [["true", say("others.yes")], ["false", say("others.no")]], parse: (text) => text === "true" };
  return { kind: by < 0 && types.includes("string") && !types.includes("number") ? "text" : "number" };
}
