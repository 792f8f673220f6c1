// What is asked about a drawing: how it goes on while one draws, its name and what it is for once it is there.

import { catches } from "./catch.js";
import { back, drawing, endDrawing, enough, finish, stepsDrawn, toggleCatch, whenDrawn } from "./drawing.js";
import { numberOf, perform } from "./field.js";
import { showFault } from "./aloud.js";
import { replaceKeeping } from "./keep.js";
import { find, make } from "./make.js";
import { mapOf } from "./maps.js";
import { state, written } from "./state.js";
import { count, say } from "./words.js";

const FROM = ["top_of_bank", "edge_of_water", "centre_of_watercourse", "well_or_spring", "field_border"];
let wasDone = false;

whenDrawn((now) => {
  panel();
  // What was drawn has no name yet.
  if (now?.done && !wasDone) find("#drawing input, #drawing select, #drawing .main")?.focus();
  wasDone = Boolean(now?.done);
});

function panel() {
  const root = find("#drawing");
  const now = drawing();
  if (!now) {
    // Whoever was in the panel goes on at the map.
    if (root.contains(document.activeElement)) mapOf(0)?.focus();
    root.replaceChildren();
    root.hidden = true;
    return;
  }
  root.hidden = false;
  root.setAttribute("aria-label", say(`drawing.${now.kind}`));
  replaceKeeping(root,
    make("h3", {}, say(`drawing.${now.kind}`)),
    now.done && KINDS[now.kind] ? make("div", { class: "asked" }, KINDS[now.kind].fields()) : going(now),
    make("div", { class: "ways" }, now.done && KINDS[now.kind] ? button("done", say(`drawing.do_${now.kind}`), send, { main: true }) : null,
      !now.done && ["outline", "line"].includes(now.shape) ? button("finish", say(`drawing.finish_${now.shape}`), finish, { off: !enough() }) : null,
      button("back", say(now.done ? "drawing.go_on" : "drawing.back"), back, { off: !now.places.length }),
      button("none", say("drawing.stop"), endDrawing)));
}

function going({ shape, places }) {
  return [
    make("p", { class: "hint" }, say(`drawing.how_${shape}`)),
    shape === "outline" || shape === "line" ? make("p", {}, count("drawing.places", places.length)) : null,
    make("label", { class: "check", for: "drawing-catch" },
      make("input", { type: "checkbox", id: "drawing-catch", "data-key": "drawing catch", checked: catches(), onchange: toggleCatch }), say("drawing.catch")),
  ];
}

function button(key, words, does, { main = false, off = false } = {}) {
  return make("button", { type: "button", class: main ? "main" : null, "data-key": `drawing ${key}`, "aria-disabled": off ? "true" : null, onclick: off ? null : () => does() }, words);
}

const value = (key) => find(`#drawing-${key}`)?.value.trim() ?? "";

function text(key, has = {}) {
  return make("div", {},
    make("label", { for: `drawing-${key}` }, has.label ?? say(`drawing.${key}`), has.unit ? make("span", { class: "unit" }, ` ${has.unit}`) : null),
    make("input", { type: "text", id: `drawing-${key}`, "data-key": `drawing ${key}`, autocomplete: "off", inputmode: has.unit ? "decimal" : null, oninput: typed }));
}

const typed = (event) => { event.target.dataset.typed = ""; };

function choice(key, label, all) {
  return make("div", {},
    make("label", { for: `drawing-${key}` }, label),
    make("select", { id: `drawing-${key}`, "data-key": `drawing ${key}` }, all.map(([one, words]) => make("option", { value: one }, words))));
}

function checks(name, all) {
  return make("fieldset", { class: "checks" }, make("legend", {}, say(`drawing.${name}`)), all.map(({ key, words, on }) => make("label", { class: "check" },
    make("input", { type: "checkbox", "data-key": `drawing ${name} ${key}`, value: key, checked: on }), words)));
}

const checked = (name) => [...document.querySelectorAll(`#drawing [data-key^='drawing ${name} ']`)].filter((one) => one.checked).map((one) => one.value);
const products = () => (written(["product"]) ?? []).map(({ id, name, kind }) => ({ id, name: name ?? id, kind }));
const isUs = () => state()?.units.length === "ft";

/** Each kind: its fields, and what is sent of them; a text instead where something is missing. */
const KINDS = {
  exclusion: {
    fields: () => [text("name"), text("why"), make("label", { class: "check" }, make("input", { type: "checkbox", "data-key": "drawing water", id: "drawing-water" }), say("fields.water"))],
    sent: () => ({ what: "exclusion", name: value("name"), why: value("why"), outline: stepsDrawn(), water: find("#drawing-water").checked }),
  },
  strip: {
    fields: () => [
      make("p", { class: "caution" }, say("clear.caution")),
      text("name"), text("why"), text("distance", { unit: state().units.length }),
      choice("from", say("fields.measured_from"), [["", say("field.choose")], ...FROM.map((from) => [from, say(`measured_from.${from}`)])]),
      checks("off", products().map(({ id, name, kind }) => ({ key: id, words: name, on: kind !== "seed" }))),
    ],
    sent: () => {
      const distance = numberOf(value("distance"));
      if (distance === undefined) return say("field.no_number", { text: value("distance") });
      return { what: "strip", name: value("name"), why: value("why"), line: stepsDrawn(), distance: isUs() ? { ft: distance } : { m: distance }, measured_from: value("from") || null, products: checked("off") };
    },
  },
  place: {
    fields: () => [
      text("name"), text("why"),
      products().map(({ id, name }) => text(`percent-${id}`, { label: say("clear.percent", { name }), unit: "%" })),
    ],
    sent: () => {
      const percent = {};
      for (const { id } of products()) {
        const written_here = value(`percent-${id}`);
        if (written_here === "") continue;
        const number = numberOf(written_here);
        if (number === undefined) return say("field.no_number", { text: written_here });
        percent[id] = number;
      }
      return { what: "place", name: value("name"), why: value("why"), outline: stepsDrawn(), percent };
    },
  },
  guide: {
    fields: () => [make("p", { class: "hint" }, say("drawing.guide_is"))],
    sent: () => ({ what: "guide", line: stepsDrawn() }),
  },
  around: {
    fields: () => choice("class", say("zones.other_class"), drawing().about.classes.map((name) => [name, name])),
    sent: () => ({ around: { outline: stepsDrawn(), class: value("class") } }),
    action: (change) => ({ do: "border", layer: drawing().about.layer, change }),
  },
};

let sending = false;

async function send() {
  if (sending) return;
  const now = drawing();
  const { kind } = now;
  const drawn = KINDS[kind].sent();
  const action = KINDS[kind].action ?? ((what) => ({ do: "draw", drawing: what }));
  if (typeof drawn === "string") {
    showFault({ found: drawn, next: say("field.no_number_next"), place: {} });
    return;
  }
  // A second press while the first is on its way would add it twice. The panel is not made anew: what is ticked in it stays.
  sending = true;
  find("#drawing [data-key='drawing done']")?.setAttribute("aria-disabled", "true");
  const is_added = await perform(action(drawn), say("drawing.added"));
  sending = false;
  find("#drawing [data-key='drawing done']")?.removeAttribute("aria-disabled");
  // Refused, it stays on the map, with all that was written about it.
  if (is_added && drawing() === now) endDrawing();
}

/** The way into a drawing, for the part of the page that it belongs to. */
export function drawButton(kind, begin) {
  return make("button", { type: "button", "data-key": `draw ${kind}`, onclick: begin }, say(`drawing.begin_${kind}`));
}
