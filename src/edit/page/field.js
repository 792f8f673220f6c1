// One setting of the job as a field: what it is, on which paper it stands, its usual range with source, and the
// engine's words where a value is refused. What is not known is "?".

import { aloud, faultParts, faultText, hideFault, showFault } from "./aloud.js";
import { make } from "./make.js";
import { usualOf } from "./choices.js";
import { act, state, written } from "./state.js";
import { count, decimalMark, numeral, say, sayIfAny } from "./words.js";

const OPEN = "?";
const refusals = new Map(); // by key of the field: the fault of the value that was sent last

export const keyOf = (path) => `at ${path.join(" ")}`;
const textOf = (value) => (value === undefined || value === null ? "" : Array.isArray(value) ? value.map(textOf).join("  ") : typeof value === "number" ? numeral(value) : String(value));

/** A field with its label before it and its notes below; `of`: as for `fieldParts`. */
export function field(of) {
  const { label, input, notes, open } = fieldParts(of);
  return make("div", { class: `field-row${open ? " open" : ""}` }, label, input, notes);
}

/** Parts of a field by its `path`, `kind` (number, numbers, text, choice, yes_no, date), `label`, `unit`, `choices`, `product`,
 * `usual` or `usualKey` (what publishers call usual, or the key it is filed under), `step`. */
export function fieldParts(of) {
  const { path, kind = "number" } = of;
  const last = path.at(-1);
  const key = keyOf(path);
  const value = written(path);
  const id = `f-${path.join("-").replaceAll(/[^\w-]/g, "_")}`;
  const fault = refusals.get(key) ?? faultOf(path);
  const label = of.label ?? say(`fields.${last}`);
  const notes = [
    value === OPEN ? make("span", {}, make("b", { class: "is-open" }, `${say("field.open")} `), say("field.paper", { paper: paperOf(path) })) : null,
    of.help ?? null,
    usualNotes(usualOf(of, of.usualKey ?? last), key),
  ].filter(Boolean);
  const about = { id, "data-key": key, "aria-describedby": notes.length || fault ? `${id}-notes` : null, "aria-invalid": fault ? "true" : null };
  const unit = of.unit ?? sayIfAny(`units.${last}`);
  return {
    label: make("label", { for: id }, label, unit ? make("span", { class: "unit" }, ` ${unit}`) : null),
    input: inputs[kind](of, value, about),
    notes: notes.length || fault ? make("div", { class: "notes", id: `${id}-notes` }, notes, fault ? make("p", { class: "refused" }, faultParts(fault)) : null) : null,
    open: value === OPEN,
  };
}

/** What publishers say is usual: one at once, several behind a line that names the first. */
function usualNotes(all, key) {
  const line = ({ text, source }) => [say("field.usual", { text }), make("small", {}, ` ${source}`)];
  if (all.length < 2) return all.length ? make("span", { class: "usual" }, line(all[0])) : null;
  return make("details", { class: "usual", "data-key": `usual ${key}` },
    make("summary", { "data-key": `usual ${key} summary` }, count("field.usual", all.length, { text: all[0].text })),
    make("ul", {}, all.map((one) => make("li", {}, line(one)))));
}

const inputs = {
  number: (of, value, about) => textInput(of, value, { ...about, inputmode: "decimal", class: "number" }, numberOf),
  numbers: (of, value, about) => textInput(of, value, about, numbersOf),
  text: (of, value, about) => textInput(of, value, about, (text) => text),
  date: (of, value, about) => textInput(of, value, { ...about, placeholder: say("field.date") }, (text) => text),
  choice: (of, value, about) => {
    const known = of.choices ?? [];
    const all = value !== undefined && !known.some(([one]) => one === value) ? [[value, value === OPEN ? say("field.not_known") : value], ...known] : known;
    return make("select", { ...about, onchange: (event) => send(of, event.target.value === "" ? null : (of.parse ?? String)(event.target.value), event.target) },
      make("option", { value: "" }, say("field.choose")), all.map(([one, words]) => make("option", { value: one, selected: one === value }, words)));
  },
  yes_no: (of, value, about) => make("input", { ...about, type: "checkbox", checked: value === true, onchange: (event) => send(of, event.target.checked, event.target) }),
};

/** A number as people type it; undefined where it is none. The mark of another language is a decimal one where it can be nothing
 * else: with three digits behind it, it may part thousands. */
export function numberOf(text) {
  const parts = /^(-?\d+)(?:([.,])(\d+))?$/.exec(text.replaceAll(/\s/g, ""));
  if (!parts) return undefined;
  const [, whole, mark, rest] = parts;
  if (mark && mark !== decimalMark() && rest.length === 3) return undefined;
  return Number(mark ? `${whole}.${rest}` : whole);
}

/** Numbers with blanks or semicolons between them; undefined where one is none. */
function numbersOf(text) {
  const all = text.split(/;|\s+|,\s/).filter(Boolean).map(numberOf);
  return all.includes(undefined) ? undefined : all;
}

function textInput(of, value, about, parse) {
  const commit = (input) => {
    const text = input.value.trim();
    if (text === textOf(written(of.path))) {
      delete input.dataset.typed;
      if (refusals.delete(keyOf(of.path))) onRefused();
      return;
    }
    const parsed = text === "" ? null : text === OPEN ? OPEN : parse(text);
    if (parsed === undefined) refuse(of, { found: say("field.no_number", { text }), next: say("field.no_number_next"), place: {} });
    else send(of, parsed, input);
  };
  const input = make("input", {
    ...about, type: "text", value: textOf(value), autocomplete: "off", spellcheck: "false", readonly: of.fixed ? true : null,
    oninput: (event) => { event.target.dataset.typed = ""; },
    onchange: (event) => commit(event.target),
    onkeydown: (event) => {
      if (event.key === "Escape") {
        event.target.value = textOf(written(of.path));
        delete event.target.dataset.typed;
        if (refusals.delete(keyOf(of.path))) onRefused();
      }
      if (parse !== numberOf || !["ArrowUp", "ArrowDown"].includes(event.key)) return;
      const from = numberOf(event.target.value);
      if (from === undefined) return;
      event.preventDefault();
      const next = stepped(from, (of.step ?? stepOf(from)) * (event.shiftKey ? 10 : 1) * (event.key === "ArrowUp" ? 1 : -1));
      event.target.value = textOf(next);
      send(of, next, event.target);
    },
  });
  return input;
}

const stepOf = (from) => (Number.isInteger(from) ? 1 : 10 ** -String(from).split(".")[1].length);
const stepped = (from, by) => Number(Math.max(0, from + by).toFixed(6));

/** Sends one value; the answer moves maps, kilograms, packs and balance at once. */
async function send(of, value, input) {
  const { path } = of;
  // What is on its way is no longer the typing of a hand.
  delete input.dataset.typed;
  const action = value === null ? { do: "unset", path } : { do: written(path) === OPEN ? "answer" : "set", path, value };
  try {
    const answer = await act(of.action ? of.action(value) : action);
    refusals.delete(keyOf(path));
    hideFault();
    aloud(resultOf(answer));
  } catch (refused) {
    input.dataset.typed = "";
    refuse(of, refused.fault ?? { found: say("page.lost"), place: {} });
  }
}

function refuse(of, fault) {
  refusals.set(keyOf(of.path), fault);
  aloud(faultText(fault));
  onRefused();
}

let onRefused = () => {};
/** Called when a refusal has come or gone, so that the fields are shown again. */
export function whenRefused(then) {
  onRefused = then;
}

/** A fault of the job as it is, at the field it is about. */
function faultOf(path) {
  const { fault } = state() ?? {};
  return fault?.path && keyOf(fault.path) === keyOf(path) ? fault : null;
}

/** The paper on which an open setting is looked up, in the engine's words. */
function paperOf(path) {
  const found = state()?.open_settings.find((setting) => keyOf(setting.path) === keyOf(path));
  return found?.paper ?? say("field.papers");
}

function resultOf({ plan, fault, units }) {
  if (fault) return faultText(fault);
  if (!plan) return say("field.taken");
  return plan.products.map(({ name, lowest_text: low, highest_text: high, map_text: kg }) => say("field.result", { name, low, high, unit: units.rate, kg })).join(" ");
}

/** A form that sends no field by itself: a button that acts, with the engine's refusal above it. */
export async function perform(action, done) {
  const took = await performing(() => act(action));
  if (took && done) aloud(done);
  return took;
}

/** Asks the engine for something, with its refusal above the part; whether it was done. */
export async function performing(does) {
  try {
    await does();
    hideFault();
    return true;
  } catch (refused) {
    showFault(refused.fault ?? { found: say("page.lost"), place: {} });
    return false;
  }
}
