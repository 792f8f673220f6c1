// Puts new content in the place of old, and keeps what the user is at: focus, text not yet sent, details opened.
// What is kept is known by its data-key.

import { findAll } from "./make.js";

export function replaceKeeping(root, ...content) {
  const at = root.contains(document.activeElement) ? document.activeElement : null;
  const focused = at?.dataset.key;
  const place = at && "selectionStart" in at ? [at.selectionStart, at.selectionEnd] : null;
  const typed = new Map(findAll("[data-key][data-typed]", root).map((field) => [field.dataset.key, field.value]));
  const opened = new Map(findAll("details[data-key]", root).map((part) => [part.dataset.key, part.open]));
  const scrolled = root.scrollTop;
  root.replaceChildren(...content.flat(Infinity).filter(Boolean));
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
