// A new field: drop its files, say what each is, and begin. What only the farm knows is asked for afterwards, as "?".

import { aloud, showFault } from "./aloud.js";
import { drop, filesDescribed } from "./files.js";
import { replaceKeeping } from "./keep.js";
import { find, make } from "./make.js";
import { act, start } from "./state.js";
import { say } from "./words.js";

let again = () => {};
const uses = new Map(); // by file: { role, column }
let name = "";
const ROLES = ["boundary", "layer", "unused"];

export function whenBegun(then) {
  again = then;
}

export function begin() {
  document.body.classList.add("beginning");
  document.title = `${say("begin.title")} · twinsow`;
  const boundary = filesDescribed().find(({ file }) => uses.get(file)?.role === "boundary");
  replaceKeeping(find("#part"),
    make("h2", { id: "part-title", tabindex: "-1" }, say("begin.title")),
    make("p", { class: "hint" }, say("begin.hint")),
    drop({ uses: roleOf }),
    make("div", { class: "form" },
      make("label", { for: "begin-name" }, say("begin.name")),
      make("input", { id: "begin-name", type: "text", "data-key": "begin name", value: name, autocomplete: "off", oninput: (event) => { name = event.target.value; } })),
    make("p", { class: "soft" }, say("begin.later")),
    make("button", { type: "button", class: "main", "data-key": "begin", "aria-disabled": boundary ? null : "true", onclick: () => go(boundary) }, say("begin.go")));
}

/** What a file is for; the first one that looks like a border is taken as it. */
function roleOf({ file }, layer) {
  if (!uses.has(file)) {
    const first = ![...uses.values()].some((use) => use.role === "boundary");
    const role = layer?.suggest === "boundary" || (first && layer?.features === 1) ? "boundary" : layer ? "layer" : "unused";
    const column = layer?.attributes?.find((one) => one.classes?.length)?.name ?? layer?.attributes?.[0]?.name ?? null;
    uses.set(file, { role, column });
  }
  const use = uses.get(file);
  const id = `role-${file}`.replaceAll(/[^\w-]/g, "_");
  const columns = use.role === "layer" ? layer?.attributes ?? [] : [];
  return make("div", { class: "form" },
    make("label", { for: id }, say("begin.role")),
    make("select", { id, "data-key": id, onchange: (event) => { use.role = event.target.value; again(); } },
      ROLES.map((role) => make("option", { value: role, selected: role === use.role }, say(`begin.role_${role}`)))),
    columns.length ? [
      make("label", { for: `${id}-column` }, say("files.class_column")),
      make("select", { id: `${id}-column`, "data-key": `${id} column`, onchange: (event) => { use.column = event.target.value; } },
        columns.map((one) => make("option", { value: one.name, selected: one.name === use.column }, one.name))),
    ] : null);
}

async function go(boundary) {
  if (!boundary) {
    showFault({ found: say("begin.no_boundary"), next: say("begin.no_boundary_next"), place: {} });
    return;
  }
  const layers = filesDescribed().map(({ file }) => ({ file, ...uses.get(file) })).filter(({ role }) => role === "layer").reverse();
  try {
    await start({ boundary: boundary.file, layers: layers.map(({ file }) => file), class_attributes: layers.map(({ column }) => column ?? "") });
    if (name.trim()) await act({ do: "set", path: ["field", "name"], value: name.trim() });
    aloud(say("begin.begun"));
    window.location.hash = "settle";
  } catch (refused) {
    showFault(refused.fault ?? { found: say("page.lost"), place: {} });
  }
}
