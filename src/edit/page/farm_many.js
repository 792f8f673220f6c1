// The same change for many fields: what it does in each is shown first; one press makes it in all, and it can be taken back.

import { aloud, faultParts, hideFault, showFault } from "./aloud.js";
import { post } from "./engine.js";
import { nameOfJob, lookAtFarm } from "./farm.js";
import { numberOf } from "./field.js";
import { make } from "./make.js";
import { count, numeral, say } from "./words.js";

/** What can be changed alike: a path in the job, or from the product on. */
const KINDS = {
  lot: { product: true, path: ["lot"] },
  dressing: { product: true, path: ["dressing"] },
  thousand_grain_weight_g: { product: true, path: ["thousand_grain_weight_g"], number: true },
  germination_percent: { product: true, path: ["germination_percent"], number: true },
  pack_kg: { product: true, path: ["pack_kg"], number: true },
  bulk_density_kg_per_l: { product: true, path: ["bulk_density_kg_per_l"], number: true },
  sowing_date: { path: ["sowing_date"] },
};

/** A rate is chosen with its unit: the same number in another is another rate. */
const RATE = "rate ";
const rateOf = (kind) => (kind.startsWith(RATE) ? kind.slice(RATE.length) : null);
const kindOf = (name) => (rateOf(name) ? { product: true, number: true } : KINDS[name]);
const nameOf = (name) => (rateOf(name) ? say("many.rate_in", { what: say(`fields.${rateOf(name)}`), unit: say(`units.${rateOf(name)}`) }) : say(name === "sowing_date" ? "many.date" : `fields.${name}`));

const wish = { kind: "", product: "", value: "" };
let looked = null; // { change, words, fields, names }

export function sameChange(farm, jobs, again) {
  const all = jobs.flatMap((job) => job.products);
  const kinds = [...new Set(all.map(({ rate }) => rate).filter(Boolean))].map((key) => RATE + key).concat(Object.keys(KINDS));
  if (!kinds.includes(wish.kind)) wish.kind = kinds[0];
  const kind = kindOf(wish.kind);
  const rate = rateOf(wish.kind);
  const products = [...new Set(all.filter((product) => !rate || product.rate === rate).map(({ name }) => name).filter(Boolean))];
  if (!products.includes(wish.product)) wish.product = products[0] ?? "";
  const changed = (key) => (event) => { wish[key] = event.target.value; looked = null; again(); };
  return make("section", { class: "card" },
    make("h3", {}, say("many.title")),
    make("p", { class: "soft" }, count("many.hint", jobs.length)),
    make("div", { class: "form" },
      make("label", { for: "many-kind" }, say("many.kind")),
      make("select", { id: "many-kind", "data-key": "many kind", onchange: changed("kind") }, kinds.map((key) => make("option", { value: key, selected: key === wish.kind }, nameOf(key)))),
      kind.product ? [make("label", { for: "many-product" }, say("many.product")),
        make("select", { id: "many-product", "data-key": "many product", onchange: changed("product") }, products.map((name) => make("option", { value: name, selected: name === wish.product }, name)))] : null,
      make("label", { for: "many-value" }, say("many.value"), rate ? make("span", { class: "unit" }, ` ${say(`units.${rate}`)}`) : null),
      make("input", { id: "many-value", type: "text", "data-key": "many value", value: wish.value, autocomplete: "off", placeholder: wish.kind === "sowing_date" ? say("field.date") : null, oninput: (event) => { wish.value = event.target.value; event.target.dataset.typed = ""; } }),
      make("button", { type: "button", "data-key": "many look", onclick: () => look(jobs, again) }, say("many.look"))),
    looked ? preview(again) : null,
    farm.undo ? make("p", {}, make("button", { type: "button", "data-key": "many undo", onclick: () => undo(again) }, count("many.undo", farm.undo.count, { words: farm.undo.words }))) : null);
}

function changeOf() {
  const kind = kindOf(wish.kind);
  const text = wish.value.trim();
  const value = kind.number ? numberOf(text) : text;
  if (text === "" || value === undefined) return null;
  const key = rateOf(wish.kind);
  if (key) return { what: "rate", product: wish.product, key, value };
  return kind.product ? { what: "product", product: wish.product, path: kind.path, value } : { what: "setting", path: kind.path, value };
}

async function look(jobs, again) {
  const change = changeOf();
  if (!change) {
    showFault({ found: say("many.no_value"), next: say("many.no_value_next"), place: {} });
    return;
  }
  try {
    const { fields } = await post("/many/look", { files: jobs.map(({ file }) => file), change });
    const name = nameOf(wish.kind);
    looked = { change, fields, unit: rateOf(wish.kind) ? say(`units.${rateOf(wish.kind)}`) : "", words: [kindOf(wish.kind).product ? wish.product : null, `${name}: ${wish.value.trim()}`].filter(Boolean).join(", "), names: new Map(jobs.map((job) => [job.file, nameOfJob(job)])) };
    hideFault();
    aloud(count("many.looked", changing().length));
  } catch (refused) {
    looked = null;
    showFault(refused.fault ?? { found: say("page.lost"), place: {} });
  }
  again();
}

const changing = () => looked.fields.filter((field) => field.changes);

const shown = (value) => (value === null || value === undefined ? say("many.nothing") : [typeof value === "number" ? numeral(value) : value, looked.unit].filter((part) => part !== "").join(" "));

function preview(again) {
  const many = changing().length;
  return make("div", {},
    make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": say("many.preview") }, make("table", { "data-key": "many preview" },
      make("caption", {}, looked.words),
      make("thead", {}, make("tr", {}, ["field", "before", "after"].map((key) => make("th", { scope: "col" }, say(`many.${key}`))))),
      make("tbody", {}, looked.fields.map((field) => make("tr", {},
        make("th", { scope: "row" }, make("bdi", {}, looked.names.get(field.file))),
        field.fault ? make("td", { colspan: "2", class: "refused" }, faultParts({ ...field.fault, place: {} })) : [
          make("td", {}, shown(field.before)),
          make("td", {}, field.changes ? make("b", {}, shown(field.after)) : say("many.same"))]))))),
    make("button", { type: "button", class: "main", "data-key": "many make", "aria-disabled": many ? null : "true", onclick: () => { if (many) makeAll(again); } }, count("many.make", many)));
}

async function makeAll(again) {
  try {
    const { changed } = await post("/many", { files: changing().map(({ file, sha256 }) => [file, sha256]), change: looked.change, words: looked.words });
    looked = null;
    hideFault();
    aloud(count("many.made", changed));
  } catch (refused) {
    showFault(refused.fault ?? { found: say("page.lost"), place: {} });
  }
  await lookAtFarm();
  again();
}

async function undo(again) {
  try {
    const { changed } = await post("/many/undo");
    looked = null;
    hideFault();
    aloud(count("many.undone", changed));
  } catch (refused) {
    showFault(refused.fault ?? { found: say("page.lost"), place: {} });
  }
  await lookAtFarm();
  again();
}
