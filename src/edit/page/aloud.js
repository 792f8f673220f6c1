// Says results aloud to screen readers, and shows what went wrong.

import { find, make } from "./make.js";
import { say } from "./words.js";

let clearing = 0;

/** One short sentence; the same one twice is read twice. */
export function aloud(text) {
  const live = find("#aloud");
  live.textContent = "";
  clearTimeout(clearing);
  clearing = setTimeout(() => { live.textContent = text; }, 60);
}

/** A fault in the engine's words: what was found, what is allowed, what to do next. */
export function faultParts(fault) {
  const place = fault.place ?? {};
  const where = [place.file, place.line ? say("fault.line", { line: place.line }) : null].filter(Boolean).join(", ");
  const line = (key, text) => (text ? make("span", { class: "fault-line" }, key ? make("b", {}, `${say(key)} `) : null, sentence(text)) : null);
  return [
    line(null, fault.found ?? fault.text),
    line("fault.allowed", fault.allowed),
    line("fault.next", fault.next),
    where ? make("span", { class: "fault-line soft" }, where) : null,
  ];
}

export const faultText = (fault) => [fault.found ?? fault.text, fault.next].filter(Boolean).map(sentence).join(" ");

/** The engine's words as a sentence: a capital to begin with, a full stop at the end. */
export function sentence(text) {
  const begun = text.charAt(0).toUpperCase() + text.slice(1);
  return /[.!?:]$/.test(begun) ? begun : `${begun}.`;
}

/** A fault that belongs to no field: a box at the top of the work, until the next action that goes well. */
export function showFault(fault) {
  const box = find("#fault");
  box.replaceChildren(make("p", {}, faultParts(fault)), make("button", { type: "button", onclick: () => hideFault() }, say("page.close")));
  box.hidden = false;
  box.scrollIntoView({ block: "nearest" });
  aloud(faultText(fault));
}

export function hideFault() {
  find("#fault").hidden = true;
}
