// A new field: drop its files, see them on one map, say what each is, and begin. What only the farm knows is asked for
// afterwards, as "?". A border file of many fields gives one of them, or a job for each of several.

import { aloud, showFault } from "./aloud.js";
import { beginMap, drawable, seekField } from "./begin_map.js";
import { lookAtFarm } from "./farm.js";
import { drop, filesDescribed, sourceOf } from "./files.js";
import { replaceKeeping } from "./keep.js";
import { find, make } from "./make.js";
import { act, start } from "./state.js";
import { count, say } from "./words.js";

let again = () => {};
const uses = new Map(); // by layer of a file: { role, column, chosen: values of fields, parts, sought }
let name = "";
const ROLES = ["boundary", "layer", "unused"];
const MOST_LISTED = 60;

export function whenBegun(then) {
  again = then;
}

export function begin() {
  document.body.classList.add("beginning");
  document.title = `${say("begin.title")} · twinsow`;
  const cards = drop({ uses: roleOf, level: "h2" });
  const pieces = piecesOf(filesDescribed());
  const boundary = pieces.find(({ use }) => use.role === "boundary");
  const fields = boundary?.layer.fields ?? null;
  const chosen = boundary?.use.chosen ?? new Set();
  replaceKeeping(find("#part"),
    make("h1", { id: "part-title", tabindex: "-1" }, say("begin.title")),
    make("p", { class: "hint" }, say("begin.hint")),
    drawable(pieces) ? beginMap(pieces, fields && !boundary.use.parts ? { fields, chosen, turn: (value) => turn(boundary, value) } : null) : null,
    fields ? which(boundary, fields) : null,
    cards,
    chosen.size > 1 ? null : make("div", { class: "form" },
      make("label", { for: "begin-name" }, say("begin.name")),
      make("input", { id: "begin-name", type: "text", "data-key": "begin name", value: name, autocomplete: "off", oninput: (event) => { name = event.target.value; } })),
    make("p", { class: "soft" }, say("begin.later")),
    make("button", { type: "button", class: "main", "data-key": "begin", "aria-disabled": boundary ? null : "true", onclick: () => go(pieces, boundary, fields) }, chosen.size > 1 ? count("begin.go_each", chosen.size) : say("begin.go")));
}

const pieceKey = ({ file }, layer) => `${file} ${layer?.table ?? ""}`;

/** Every layer of every file with what it is for, newest first; `layer` is null for a raster. */
const piecesOf = (files) => files
  .flatMap((one) => (one.raster ? [{ one, layer: null }] : one.layers.map((layer) => ({ one, layer }))))
  .map((piece) => ({ ...piece, use: uses.get(pieceKey(piece.one, piece.layer)) }))
  .filter(({ use }) => use);

/** Chooses a field, or leaves it out again. */
function turn({ use }, value) {
  const is = !use.chosen.delete(value);
  if (is) use.chosen.add(value);
  aloud(say(is ? "begin.is_chosen" : "begin.not_chosen", { name: value }));
  again();
}

/** Which of the fields of a border file are meant: the same choice as on the map, as a list. */
function which(boundary, { attributes, all }) {
  const { use } = boundary;
  const sought = use.sought.toLowerCase();
  const found = all.filter(({ value }) => value.toLowerCase().includes(sought));
  const area = all.filter(({ value }) => use.chosen.has(value)).map(({ value, area_text: text }) => `${value} (${text})`);
  return make("fieldset", { class: "card which" },
    make("legend", {}, say("begin.which", { file: boundary.one.file, count: all.length })),
    make("p", { class: "soft" }, say("begin.which_hint", { attributes: attributes.join(", ") })),
    make("label", { class: "check" }, make("input", { type: "checkbox", "data-key": "begin parts", checked: use.parts, onchange: (event) => { use.parts = event.target.checked; again(); } }), say("begin.parts")),
    use.parts ? null : [
      all.length > 12 ? make("div", { class: "form" },
        make("label", { for: "begin-sought" }, say("begin.sought")),
        make("input", { id: "begin-sought", type: "text", "data-key": "begin sought", value: use.sought, autocomplete: "off", oninput: (event) => { use.sought = event.target.value; again(); } })) : null,
      make("div", { class: "scroll choices", tabindex: "0", role: "group", "aria-label": say("begin.list") }, found.slice(0, MOST_LISTED).map(({ value, area_text: text }) => make("label", { class: "check" },
        make("input", { type: "checkbox", "data-key": `begin field ${value}`, checked: use.chosen.has(value), onchange: () => { turn(boundary, value); if (use.chosen.has(value)) seekField(value); } }),
        make("bdi", {}, value), make("small", {}, ` ${text}`)))),
      found.length > MOST_LISTED ? make("p", { class: "soft" }, say("begin.more", { count: found.length - MOST_LISTED })) : null,
      make("p", { role: "status" }, area.length ? say("begin.chosen", { names: area.slice(0, 8).join(", ") }) : say("begin.none_chosen")),
    ]);
}

/** What a file is for; the first one that looks like a border is taken as it. */
function roleOf(one, layer) {
  const key = pieceKey(one, layer);
  if (!uses.has(key)) {
    const first = ![...uses.values()].some((use) => use.role === "boundary");
    const points = layer?.suggest === "values";
    const plain = (other) => other.suggest === "boundary" || other.features === 1;
    const others = filesDescribed().flatMap((other) => other.layers ?? []).filter((other) => other !== layer);
    const fits = layer && !points && (plain(layer) || (layer.fields && !others.some(plain)));
    const columns = points ? layer.values ?? [] : layer?.attributes ?? [];
    const column = points ? (columns.length === 1 ? columns[0].name : null) : columns.find((each) => each.classes?.length)?.name ?? columns[0]?.name ?? null;
    uses.set(key, { role: first && fits ? "boundary" : "layer", column, chosen: new Set(), parts: false, sought: "" });
  }
  const use = uses.get(key);
  const id = `role-${one.file}${layer?.table ? `-${layer.table}` : ""}`.replaceAll(/[^\w-]/g, "_");
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

async function go(pieces, boundary, fields) {
  if (!boundary) {
    showFault({ found: say("begin.no_boundary"), next: say("begin.no_boundary_next"), place: {} });
    return;
  }
  const { use } = boundary;
  if (fields && !use.parts && !use.chosen.size) {
    showFault({ found: say("begin.no_field", { file: boundary.one.file, count: fields.all.length }), next: say("begin.no_field_next"), place: {} });
    return;
  }
  const layers = pieces.filter((piece) => piece.use.role === "layer").reverse();
  const field = !fields ? "unsaid" : use.parts ? "parts" : { fields: { attributes: fields.attributes, values: fields.all.filter(({ value }) => use.chosen.has(value)).map(({ values }) => values) } };
  try {
    await start({
      boundary: sourceOf(boundary.one, boundary.layer), field,
      layers: layers.map((piece) => ({ source: sourceOf(piece.one, piece.layer), column: piece.use.column })),
    });
    if (name.trim() && use.chosen.size < 2) await act({ do: "set", path: ["field", "name"], value: name.trim() });
    aloud(say("begin.begun"));
    window.location.hash = use.chosen.size > 1 ? "farm" : "settle";
    await lookAtFarm();
  } catch (refused) {
    showFault(refused.fault ?? { found: say("page.lost"), place: {} });
  }
}
