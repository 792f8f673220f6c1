// Above the parts: the engine that no longer answers, a job that another program changed, a job that does not plan.

import { aloud, faultParts } from "./aloud.js";
import { find, make } from "./make.js";
import { goToField } from "./parts.js";
import { reload } from "./state.js";
import { say } from "./words.js";

let gone = false;
let said = "";

export function notices(now, lost = gone) {
  gone = lost;
  const all = [];
  if (gone) all.push(make("div", { class: "notice" }, make("p", {}, say("notices.lost"))));
  if (now?.outside) all.push(make("div", { class: "notice" }, make("p", {}, say("notices.outside")), make("button", { type: "button", "data-key": "reload", onclick: () => reload() }, say("notices.reload"))));
  if (now?.fault && !now.open_settings.length) {
    all.push(make("div", { class: "notice" }, make("p", {}, make("b", {}, `${say(now.plan ? "notices.fault_old" : "notices.fault")} `), faultParts(now.fault)),
      now.fault.path ? make("button", { type: "button", class: "link", onclick: () => goToField(now.fault.path) }, say("settle.to_field")) : null));
  }
  let box = find("#notices");
  if (!box) {
    box = make("div", { id: "notices" });
    find("main").before(box);
  }
  box.replaceChildren(...all);
  const words = box.textContent;
  if (words && words !== said) aloud(words);
  said = words;
}
