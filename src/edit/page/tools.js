// Above the maps: zoom, and what is shown on them, each with its hatch as a key.

import { swatch } from "./hatch.js";
import { replaceKeeping } from "./keep.js";
import { make } from "./make.js";
import { showOthers, shown, view } from "./maps.js";
import { seedbedChoice } from "./seedbeds.js";
import { written } from "./state.js";
import { say } from "./words.js";

export function tools(root, { plan, ground }) {
  if (!plan && !ground) {
    root.replaceChildren();
    return;
  }
  const zoom = [["in", "+", () => view.zoom(1.5)], ["out", "−", () => view.zoom(1 / 1.5)], ["whole", say("tools.whole"), () => view.fit()]];
  const layers = !plan ? [] : [
    ["rates", null, true], ["zones", null, true], ["headland", "headland", true], ["clear", "clear", plan.rows.some((row) => row.setbacks.length)],
    ["held", "held", plan.products.some((product) => product.held.some(Boolean))], ["bouts", null, Boolean(plan.drive)], ["balance", null, plan.balances.length > 0], ["trials", null, plan.trials.length > 0], ["ground", null, true],
  ].filter(([, , there]) => there);
  replaceKeeping(root,
    make("div", { role: "group", "aria-label": say("tools.zoom"), class: "zoom" }, zoom.map(([key, sign, does]) => make("button", {
      type: "button", "data-key": `zoom ${key}`, "aria-label": say(`tools.${key}`), onclick: does,
    }, sign))),
    seedbedChoice(plan, "maps"),
    layers.length === 0 ? null : make("details", { class: "show", "data-key": "show layers" },
      make("summary", { "data-key": "show layers summary" }, say("tools.show")),
      make("fieldset", {}, make("legend", { class: "quiet" }, say("tools.show")), layers.map(([key, mark]) => make("label", {},
        make("input", {
          type: "checkbox", "data-key": `show ${key}`, checked: shown[key],
          onchange: (event) => { shown[key] = event.target.checked; showOthers(); },
        }),
        mark ? swatchOf(mark) : null, say(`tools.${key}`))))));
}

/** What the hatches on the maps mean: those that are there. */
export function keys(root, { plan }) {
  const there = plan ? [
    ["off", plan.products.some((product) => product.colour.includes(""))], ["clear", plan.rows.some((row) => row.setbacks.length)],
    ["held", shown.held && plan.products.some((product) => product.held.some(Boolean))], ["out", true],
    ["headland", shown.headland && plan.rows.some((row) => row.part === "headland")],
    ["bout", shown.bouts], ["tramline", shown.bouts], ["stop", shown.bouts], ["plot", shown.trials && plan.trials.length > 0], ["plot_by_map", shown.trials && plan.trials.length > 0], ["guide", shown.bouts && Boolean(written(["drive", "along"]))],
    ["entrance", Boolean(plan.entrance)],
  ] : [];
  root.replaceChildren(make("p", { class: "keys soft" }, there.filter(([, is]) => is).map(([mark]) => make("span", {}, swatchOf(mark), say(`maps.key_${mark}`)))));
}

/** Lines and stops as they are drawn on the maps; hatches as pictures. */
function swatchOf(mark) {
  if (["headland", "bout", "tramline", "guide"].includes(mark)) return make("span", { class: `line is-${mark}`, "aria-hidden": "true" });
  if (mark.startsWith("plot")) return make("span", { class: `plot is-${mark}`, "aria-hidden": "true" });
  if (mark === "stop") return make("span", { class: "is-stop", "aria-hidden": "true" }, "1");
  if (mark === "entrance") return make("span", { class: "is-stop is-entrance", "aria-hidden": "true" }, say("maps.entrance_sign"));
  return swatch("#ffffff", mark);
}
