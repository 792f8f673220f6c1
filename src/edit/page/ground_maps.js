// The maps of zones: what lies under them (points or pixels, asked for once), and their legend.

import { get } from "./engine.js";
import { swatch } from "./hatch.js";
import { replaceKeeping } from "./keep.js";
import { make } from "./make.js";
import { samplesLegend, samplesOf } from "./samples.js";
import { say } from "./words.js";

const asked = new Map(); // by picture and layer: samples, or null while they are on their way or where there are none

const valuesShown = new Set(); // layers whose raster is shown instead of its zones

/** What lies on the map of a layer: points always, pixels instead of the zones where that is chosen. */
export const samplesOn = (samples, { nth }) => (samples?.picture && !valuesShown.has(nth) ? null : samples);

/** Points or pixels that a layer was made from; null until they are there. `came`: called when they are. */
export function samplesFor({ samples, nth }, picture, came) {
  if (!samples) return null;
  const key = `${picture} ${nth}`;
  if (asked.has(key)) return asked.get(key);
  asked.set(key, null);
  get(`/samples?layer=${nth}`).then((found) => {
    asked.set(key, samplesOf(found));
    if (asked.get(key)) came();
  }, () => {}); // The zones themselves are there all the same.
  return null;
}

/** Classes with their land, and what the colours of the samples mean. */
export function groundLegend(root, { key, of }, { choose, samples, again }) {
  const turn = () => {
    if (!valuesShown.delete(of.nth)) valuesShown.add(of.nth);
    again();
  };
  const lines = of.bars.map((bar) => make("tr", {},
    make("th", { scope: "row" }, make("button", {
      type: "button", class: "rate", "data-key": `${key} ${bar.text}`, onclick: () => choose(bar.rows.map((row) => row - 1)),
      "aria-label": say("legend.show", { rate: bar.text || of.name, area: bar.area_text }),
    }, swatch(bar.colour), make("bdi", {}, bar.text || of.name))),
    make("td", { class: "number" }, bar.area_text)));
  replaceKeeping(root,
    make("div", { class: "scroll" }, make("table", {},
      make("caption", { class: "quiet" }, say("legend.caption_zones", { name: of.name })),
      make("thead", {}, make("tr", {}, make("th", { scope: "col" }, say("legend.class")), make("th", { scope: "col", class: "number" }, say("legend.land")))),
      make("tbody", {}, lines))),
    ...(samples?.picture ? [make("button", { type: "button", "data-key": `${key} values`, "aria-pressed": String(valuesShown.has(of.nth)), onclick: turn }, say("samples.show"))] : []),
    ...(samplesOn(samples, of) ? [samplesLegend(samples, of.name)] : []));
}
