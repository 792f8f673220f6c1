// A number that is the same everywhere, or one for each class of a layer, as fields.

import { field, perform } from "./field.js";
import { make } from "./make.js";
import { state, written } from "./state.js";
import { say } from "./words.js";

/** Fields for the number at a path, with the ways between one number and one for each class. */
export function lookupFields(path, { label, unit }) {
  const now = written(path);
  const { by_class: classes, layer } = now ?? {};
  if (classes) {
    return [
      Object.keys(classes).map((name) => field({ path: [...path, "by_class", name], label: say("lookup.of_class", { label, layer, class: name }), unit })),
      now.otherwise === undefined ? null : field({ path: [...path, "otherwise"], label: say("lookup.otherwise", { label }), unit }),
      way(`one ${path.join(" ")}`, say("lookup.one", { label }), () => perform({ do: "set", path, value: Object.values(classes)[0] ?? "?" }, say("lookup.same_everywhere", { label }))),
    ];
  }
  return [
    field({ path, label, unit }),
    typeof now === "number" ? layersOf().map((of) => way(`by class ${path.join(" ")} ${of.name}`, say("rates.by_class", { layer: of.name }), () => perform({ do: "set", path, value: { layer: of.name, by_class: Object.fromEntries(of.classes.map((one) => [one, now])) } }, say("rates.apart", { layer: of.name })), say("rates.by_class_of", { title: label, layer: of.name }))) : null,
  ];
}

const way = (key, words, does, long = null) => make("button", { type: "button", class: "link", "data-key": key, "aria-label": long, onclick: does }, words);

/** The layers of the plan with the classes that they have on the land. */
function layersOf() {
  const { plan } = state();
  return (plan?.layers ?? []).map((name, nth) => ({ name, classes: [...new Set(plan.rows.map((row) => row.classes[nth]))].sort() }));
}
