// Zones by hand: a zone of a layer is given another class or joined to its neighbour. The engine does the geometry.

import { aloud, showFault } from "./aloud.js";
import { get } from "./engine.js";
import { perform } from "./field.js";
import { make } from "./make.js";
import { count, say } from "./words.js";

let opened = null; // { name, zones, classes, editable, why_not }
let again = () => {};

export function whenZonesCame(then) {
  again = then;
}

async function openZones(name) {
  try {
    opened = await get(`/layer?name=${encodeURIComponent(name)}`);
    aloud(opened.editable ? count("zones.opened", opened.zones.length) : opened.why_not);
  } catch (refused) {
    showFault(refused.fault ?? { found: say("page.lost"), place: {} });
  }
  again();
}

export function zonesByHand(layer) {
  if (opened?.name !== layer.name) {
    return make("button", { type: "button", "data-key": `zones ${layer.name}`, onclick: () => openZones(layer.name) }, say("zones.open"));
  }
  if (!opened.editable) return make("p", { class: "soft" }, opened.why_not);
  return make("div", { class: "scroll" }, make("table", { class: "rules" },
    make("caption", {}, count("zones.opened", opened.zones.length)),
    make("thead", {}, make("tr", {}, make("th", { scope: "col" }, say("zones.zone")), make("th", { scope: "col" }, say("zones.class")))),
    make("tbody", {}, opened.zones.map(line))));
}

function line(zone) {
  const change = async (name) => {
    if (await perform({ do: "class", layer: opened.name, zone: zone.nth, class: name }, say("zones.changed", { nth: zone.nth + 1, name }))) openZones(opened.name);
  };
  return make("tr", {},
    make("th", { scope: "row" }, say("zones.nth", { nth: zone.nth + 1 })),
    make("td", {}, make("select", { "data-key": `zone ${opened.name} ${zone.nth}`, "aria-label": say("zones.class_of", { nth: zone.nth + 1 }), onchange: (event) => change(event.target.value) },
      opened.classes.map((name) => make("option", { value: name, selected: name === zone.class }, name)))));
}
