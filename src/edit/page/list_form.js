// Lists of the job that grow by hand: rotors of a hopper, lots of a product, limits beside the seed. A new entry comes with "?"
// where somebody has to look something up; its fields stand there at once, and are counted as open until they are filled in.

import { field, perform } from "./field.js";
import { make } from "./make.js";
import { state, written } from "./state.js";
import { say } from "./words.js";

/** `path`: where the list stands; `keys`: [key, what a field takes besides its path], or a function of an entry that gives them; `entry()`: a new one; `name(entry)`: what it is called. */
export function listForm({ title, hint, path, keys, entry, name, add }) {
  const entries = written(path) ?? [];
  const list = path.join(" ");
  // A list at the top of the job has a name of its own for people.
  const top = path.length === 1 ? path[0] : null;
  return make("section", { class: "card" },
    make("h3", {}, title),
    hint ? make("p", { class: "soft" }, hint) : null,
    entries.map((one, nth) => make("div", { class: "entry" },
      make("h4", {}, make("bdi", {}, name(one, nth))),
      (typeof keys === "function" ? keys(one) : keys).map(([key, more]) => field({ path: [...path, nth, key], ...more })),
      make("button", { type: "button", "data-key": `remove ${list} ${nth}`, onclick: () => perform(top ? { do: "remove", table: top, nth } : { do: "unset", path: [...path, nth] }, say("ground.removed", { name: name(one, nth) })) }, say("ground.remove")))),
    make("button", { type: "button", "data-key": `add ${list}`, onclick: () => perform(top ? { do: "add", table: top, entry: entry() } : { do: "add_to", path, entry: entry() }, say("list.added")) }, add));
}

const nameOr = (text, nth) => (text && text !== "?" ? text : say("list.nth", { nth: nth + 1 }));

/** Rotors that fit a hopper's metering unit. */
export const rotors = (hopper, nth) => listForm({
  title: say("list.rotors", { hopper: hopper.name ?? nth + 1 }),
  hint: say("list.rotors_is"),
  path: ["drill", "hopper", nth, "rotor"],
  keys: [["name", { kind: "text" }], ["cm3_per_rev"], ["min_rev_per_min"], ["max_rev_per_min"], ["filling_percent"]],
  entry: () => ({ name: "?", cm3_per_rev: "?", min_rev_per_min: "?", max_rev_per_min: "?" }),
  name: (one, at) => nameOr(one.name, at),
  add: say("list.add_rotor"),
});

/** Lots or varieties of a seed, by the class of a layer. */
export function lots(product, nth) {
  const layers = (written(["layer"]) ?? []).map(({ name }) => [name, name]);
  if (!product.lots) {
    if (!layers.length) return null;
    const first = { layer: layers[0][0], lot: [lotOf()] };
    return make("div", { class: "ways" }, make("button", { type: "button", "data-key": `lots begin ${nth}`, onclick: () => perform({ do: "set", path: ["product", nth, "lots"], value: first }, say("list.added")) }, say("list.begin_lots")));
  }
  const classes = classesOf(product.lots.layer).map((name) => [name, name]);
  return make("div", {},
    field({ path: ["product", nth, "lots", "layer"], kind: "choice", choices: layers }),
    listForm({
      title: say("list.lots"), hint: say("list.lots_is"),
      path: ["product", nth, "lots", "lot"],
      keys: [["class", classes.length ? { kind: "choice", choices: classes } : { kind: "text" }], ["lot", { kind: "text" }], ["variety", { kind: "text" }], ["dressing", { kind: "text" }], ["thousand_grain_weight_g", { product: nth }], ["germination_percent", { product: nth }], ["pack_kg"]],
      entry: lotOf,
      name: (one, at) => nameOr(one.lot, at),
      add: say("list.add_lot"),
    }),
    make("button", { type: "button", "data-key": `lots end ${nth}`, onclick: () => perform({ do: "unset", path: ["product", nth, "lots"] }, say("list.one_lot")) }, say("list.end_lots")));
}

/** Classes that a layer has on this field, as far as it is known. */
function classesOf(layer) {
  const { plan, ground } = state();
  const at = plan?.layers.indexOf(layer) ?? -1;
  if (at >= 0) return [...new Set(plan.rows.map((row) => row.classes[at]))].sort();
  return ground?.maps.find(({ name, nth }) => name === layer && nth !== undefined)?.bars.map(({ text }) => text) ?? [];
}

const lotOf = () => ({ class: "?", lot: "?" });
