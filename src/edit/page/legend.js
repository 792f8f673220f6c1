// The legend of a map, which is also the histogram of its rates by land: a bar for each rate.

import { swatch } from "./hatch.js";
import { make } from "./make.js";
import { state } from "./state.js";
import { say } from "./words.js";
import { replaceKeeping } from "./keep.js";

export function legend(root, { key, of, balance }, { choose }) {
  const { units } = state();
  const most = Math.max(...of.bars.map((bar) => bar.m2), 1e-9);
  const lines = [...of.bars].reverse().map((bar) => {
    const share = make("span", { class: "bar" });
    share.style.width = `${Math.max(0.5, (bar.m2 / most) * 100)}%`;
    share.style.background = bar.colour || "#ffffff";
    const rows = bar.rows.map((row) => row - 1);
    const name = bar.kg_per_ha > 0 ? bar.text : say("legend.none");
    return make("tr", {},
      make("th", { scope: "row" }, make("button", {
        type: "button", class: "rate", "data-key": `${key} ${bar.text}`, onclick: () => choose(rows),
        "aria-label": say("legend.show", { rate: `${name} ${bar.kg_per_ha > 0 ? of.rate_unit ?? units.rate : ""}`.trim(), area: bar.area_text }),
      }, swatch(bar.colour, bar.colour ? null : "off"), make("span", {}, name))),
      make("td", { class: "bars" }, share),
      make("td", { class: "number" }, bar.area_text));
  });
  const table = make("table", {},
    make("caption", { class: "quiet" }, say(balance ? "legend.caption_left" : "legend.caption", { name: of.name })),
    make("thead", {}, make("tr", {},
      make("th", { scope: "col" }, of.rate_unit ?? units.rate), make("th", { scope: "col" }, say("legend.share")), make("th", { scope: "col", class: "number" }, say("legend.land")))),
    make("tbody", {}, lines));
  const held = (of.held_by ?? []).map((by) => make("p", { class: "held-line" },
    swatch("#ffffff", "held"),
    make("button", { type: "button", class: "link", "data-key": `${key} held ${by.rule}`, onclick: () => choose(by.rows.map((row) => row - 1)) },
      say("legend.held", { area: by.area_text, why: by.rule_text }))));
  const anyHeld = !balance && !held.length && of.held?.some(Boolean)
    ? [make("p", { class: "held-line" }, swatch("#ffffff", "held"), make("button", {
      type: "button", class: "link", "data-key": `${key} held`,
      onclick: () => choose(of.held.flatMap((is, row) => (is ? [row] : []))),
    }, say("legend.held_any", { area: of.held_text })))]
    : [];
  replaceKeeping(root, make("div", { class: "scroll", tabindex: lines.length > 8 ? "0" : null, role: lines.length > 8 ? "region" : null, "aria-label": lines.length > 8 ? say("legend.caption", { name: of.name }) : null }, table), ...held, ...anyHeld);
}
