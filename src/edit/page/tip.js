// The rates under the mouse, beside it.

import { make } from "./make.js";

const box = make("div", { class: "tip", "aria-hidden": "true", hidden: true });

export function showTip(rates, event) {
  if (!box.isConnected) document.body.append(box);
  box.replaceChildren(...rates.map(({ name, text }) => make("div", {}, make("bdi", {}, name), " ", make("b", {}, text))));
  box.hidden = false;
  const right = event.clientX + 320 > window.innerWidth;
  box.style.left = right ? "auto" : `${event.clientX + 16}px`;
  box.style.right = right ? `${window.innerWidth - event.clientX + 16}px` : "auto";
  box.style.top = `${event.clientY + 14}px`;
}

export function hideTip() {
  box.hidden = true;
}
