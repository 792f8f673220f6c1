// A new field: drop its files, see them on one map, say what each is, and begin. What only the farm knows is asked for
// afterwards, as "?". A border file of many fields gives one of them, or a job for each of several.

import { aloud, showFault } from "./aloud.js";
import { drawable, beginMap } from "./begin_map.js";
import { drop, filesDescribed, sourceOf } from "./files.js";
import { replaceKeeping } from "./keep.js";
import { find, make } from "./make.js";
import { act, start } from "./state.js";
import { count, say } from "./words.js";

let again = () => {};
const uses = new Map(); // by file: { role, column, chosen: values of fields, parts, sought }
let name = "";
const ROLES = ["boundary", "layer", "unused"];
const MOST_LISTED = 60;

export function whenBegun(then) {
  again = then;
}

export function begin() {
  document.body.classList.add("beginning");
  document.title = `${say("begin.title")} · twinsow`;
  const cards = drop({ uses: roleOf });
  const boundary = filesDescribed().find(({ file }) => uses.get(file)?.role === "boundary");
  const fields = boundary && fieldsOf(boundary);
  const chosen = boundary ? uses.get(boundary.file).chosen : new Set();
  replaceKeeping(find("#part"),
    make("h2", { id: "part-title", tabindex: "-1" }, say("begin.title")),
    make("p", { class: "hint" }, say("begin.hint")),
    drawable(filesDescribed()) ? beginMap(filesDescribed(), uses, fields && !uses.get(boundary.file).parts ? { fields, chosen, turn: (value) => turn(boundary, value) } : null) : null,
    fields ? which(boundary, fields) : null,
    cards,
    chosen.size > 1 ? null : make("div", { class: "form" },
      make("label", { for: "begin-name" }, say("begin.name")),
      make("input", { id: "begin-name", type: "text", "data-key": "begin name", value: name, autocomplete: "off", oninput: (event) => { name = event.target.value; } })),
    make("p", { class: "soft" }, say("begin.later")),
    make("button", { type: "button", class: "main", "data-key": "begin", "aria-disabled": boundary ? null : "true", onclick: () => go(boundary, fields) }, chosen.size > 1 ? count("begin.go_each", chosen.size) : say("begin.go")));
}

const fieldsOf = ({ layers }) => layers?.find((layer) => layer.fields)?.fields ?? null;

/** Chooses a field, or leaves it out again. */
function turn({ file }, value) {
  const { chosen } = uses.get(file);
  const is = !chosen.delete(value);
  if (is) chosen.add(value);
  aloud(say(is ? "begin.is_chosen" : "begin.not_chosen", { name: value }));
  again();
}

/** Which of the fields of a border file are meant: the same choice as on the map, as a list. */
function which(boundary, { attribute, all }) {
  const use = uses.get(boundary.file);
  const sought = use.sought.toLowerCase();
  const found = all.filter(({ value }) => value.toLowerCase().includes(sought));
  const area = all.filter(({ value }) => use.chosen.has(value)).map(({ value, area_text: text }) => `${value} (${text})`);
  return make("fieldset", { class: "card which" },
    make("legend", {}, say("begin.which", { file: boundary.file, count: all.length })),
    make("p", { class: "soft" }, say("begin.which_hint", { attribute })),
    make("label", { class: "check" }, make("input", { type: "checkbox", "data-key": "begin parts", checked: use.parts, onchange: (event) => { use.parts = event.target.checked; again(); } }), say("begin.parts")),
    use.parts ? null : [
      all.length > 12 ? make("div", { class: "form" },
        make("label", { for: "begin-sought" }, say("begin.sought")),
        make("input", { id: "begin-sought", type: "text", "data-key": "begin sought", value: use.sought, autocomplete: "off", oninput: (event) => { use.sought = event.target.value; again(); } })) : null,
      make("div", { class: "scroll choices", tabindex: "0", role: "group", "aria-label": say("begin.list") }, found.slice(0, MOST_LISTED).map(({ value, area_text: text }) => make("label", { class: "check" },
        make("input", { type: "checkbox", "data-key": `begin field ${value}`, checked: use.chosen.has(value), onchange: () => turn(boundary, value) }),
        make("bdi", {}, value), make("small", {}, ` ${text}`)))),
      found.length > MOST_LISTED ? make("p", { class: "soft" }, say("begin.more", { count: found.length - MOST_LISTED })) : null,
      make("p", { role: "status" }, area.length ? say("begin.chosen", { names: area.slice(0, 8).join(", ") }) : say("begin.none_chosen")),
    ]);
}

/** What a file is for; the first one that looks like a border is taken as it. */
function roleOf(one, layer) {
  const { file } = one;
  if (!uses.has(file)) {
    const first = ![...uses.values()].some((use) => use.role === "boundary");
    const fits = layer?.suggest === "boundary" || layer?.features === 1 || (layer?.fields && layer.suggest !== "values" && !filesDescribed().some((other) => other.file !== file && other.layers?.some((own) => own.suggest === "boundary" || own.features === 1)));
    const points = layer?.suggest === "values";
    const columns = points ? layer.values ?? [] : layer?.attributes ?? [];
    const column = points ? (columns.length === 1 ? columns[0].name : null) : columns.find((each) => each.classes?.length)?.name ?? columns[0]?.name ?? null;
    uses.set(file, { role: first && fits && !points ? "boundary" : "layer", column, chosen: new Set(), parts: false, sought: "" });
  }
  const use = uses.get(file);
  const id = `role-${file}`.replaceAll(/[^\w-]/g, "_");
  const points = (layer?.values ?? []).length > 0;
  const columns = use.role !== "layer" || !layer ? [] : points ? layer.values : layer.attributes ?? [];
  const roles = points || !layer ? ROLES.slice(1) : ROLES;
  return make("div", { class: "form" },
    make("label", { for: id }, say("begin.role")),
    make("select", { id, "data-key": id, onchange: (event) => { use.role = event.target.value; again(); } },
      roles.map((role) => make("option", { value: role, selected: role === use.role }, say(`begin.role_${role === "layer" && (points || !layer) ? "values" : role}`)))),
    columns.length ? [
      make("label", { for: `${id}-column` }, say(points ? "files.value_column" : "files.class_column")),
      make("select", { id: `${id}-column`, "data-key": `${id} column`, onchange: (event) => { use.column = event.target.value || null; again(); } },
        points ? make("option", { value: "" }, say("field.not_known")) : null,
        columns.map((each) => make("option", { value: each.name, selected: each.name === use.column }, each.name))),
    ] : null);
}

async function go(boundary, fields) {
  if (!boundary) {
    showFault({ found: say("begin.no_boundary"), next: say("begin.no_boundary_next"), place: {} });
    return;
  }
  const use = uses.get(boundary.file);
  if (fields && !use.parts && !use.chosen.size) {
    showFault({ found: say("begin.no_field", { file: boundary.file, count: fields.all.length }), next: say("begin.no_field_next"), place: {} });
    return;
  }
  const layers = filesDescribed().filter(({ file }) => uses.get(file)?.role === "layer").reverse();
  const field = !fields ? "unsaid" : use.parts ? "parts" : { fields: { attribute: fields.attribute, values: [...use.chosen] } };
  const of = (one) => one.layers?.find((layer) => !layer.fault) ?? null;
  try {
    await start({
      boundary: sourceOf(boundary, fields ? boundary.layers.find((layer) => layer.fields) : null), field,
      layers: layers.map((one) => ({ source: sourceOf(one, one.layers?.length > 1 ? of(one) : null), column: uses.get(one.file).column })),
    });
    if (name.trim() && use.chosen.size < 2) await act({ do: "set", path: ["field", "name"], value: name.trim() });
    aloud(say("begin.begun"));
    window.location.hash = use.chosen.size > 1 ? "ground" : "settle";
  } catch (refused) {
    showFault(refused.fault ?? { found: say("page.lost"), place: {} });
  }
}
