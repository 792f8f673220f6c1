// Puts new content in the place of old, and keeps what the user is at: focus, text not yet sent, details opened, a button
// that is being pressed. What is kept is known by its data-key.

import { findAll, make } from "./make.js";

let pressed = null;
const waiting = new Map(); // by root: the newest content for it

document.addEventListener("pointerdown", (event) => { pressed = event.target; }, true);
for (const end of ["pointerup", "pointercancel"]) document.addEventListener(end, released, true);

/** The click that follows belongs to what was pressed; only then new content comes. */
function released() {
  setTimeout(() => {
    pressed = null;
    const all = [...waiting];
    waiting.clear();
    for (const [root, content] of all) replaceKeeping(root, ...content);
  });
}

export function replaceKeeping(root, ...content) {
  if (pressed && root.contains(pressed)) {
    waiting.set(root, content);
    return;
  }
  const next = make(root.tagName, {}, content);
  if (same(root, next)) return;
  const at = root.contains(document.activeElement) ? document.activeElement : null;
  const focused = at?.dataset.key;
  const place = at && "selectionStart" in at ? [at.selectionStart, at.selectionEnd] : null;
  const typed = new Map(findAll("[data-key][data-typed]", root).map((field) => [field.dataset.key, field.value]));
  const opened = new Map(findAll("details[data-key]", root).map((part) => [part.dataset.key, part.open]));
  const scrolled = root.scrollTop;
  root.replaceChildren(...next.childNodes);
  for (const part of findAll("[data-key]", root)) {
    const key = part.dataset.key;
    if (opened.has(key) && part.matches("details")) part.open = opened.get(key);
    if (typed.has(key)) {
      part.value = typed.get(key);
      part.dataset.typed = "";
    }
    if (focused === key) {
      part.focus({ preventScroll: true });
      if (place && place[0] !== null) part.setSelectionRange(...place);
    }
  }
  root.scrollTop = scrolled;
}

/** Whether nothing would change; a canvas does not show what is drawn on it, so a root with any is always made anew. */
function same(root, next) {
  if (root.childNodes.length !== next.childNodes.length || next.querySelector("canvas")) return false;
  return [...root.childNodes].every((child, nth) => child.isEqualNode(next.childNodes[nth]));
}
