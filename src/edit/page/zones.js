// Zones by hand: a zone is pointed at, gets another class, is joined to a neighbour, or is cut with a line.
// The page points; the engine does the geometry.

import { aloud, showFault } from "./aloud.js";
import { get } from "./engine.js";
import { perform } from "./field.js";
import { make } from "./make.js";
import { chooseShapes, useTool, whenLandChanges } from "./maps.js";
import { flipped } from "./scene.js";
import { Shape } from "./shapes.js";
import { count, say } from "./words.js";

let opened = null; // what the engine says of the layer, each zone with its shape
let chosen = null; // number of a zone
let cut = null; // places of a line, while one is drawn
let again = () => {};

export function whenZonesCame(then) {
  again = then;
}

// Numbers and outlines of zones hold only for the land as it was.
whenLandChanges(() => { if (opened) openZones(opened.name); });

async function openZones(name) {
  try {
    opened = await get(`/layer?name=${encodeURIComponent(name)}`);
    for (const zone of opened.zones ?? []) zone.shape = new Shape(flipped(zone.rings));
    chosen = null;
    cut = null;
    if (opened.editable) useTool(pointed);
    aloud(opened.editable ? say("zones.hint") : opened.why_not);
  } catch (refused) {
    showFault(refused.fault ?? { found: say("page.lost"), place: {} });
  }
  again();
}

function closeZones() {
  opened = null;
  cut = null;
  useTool(null);
  chooseShapes([]);
  again();
}

/** A place on a map: another point of the line, or the zone that lies there. */
function pointed(place) {
  if (cut) {
    cut.push(place);
    useTool(pointed, cut);
    aloud(say("zones.point", { nth: cut.length }));
  } else {
    choose(opened.zones.findIndex((zone) => zone.shape.holds(place.x, place.y)));
    return;
  }
  again();
}

function choose(nth) {
  chosen = nth < 0 ? null : nth;
  chooseShapes(chosen === null ? [] : [opened.zones[chosen].shape], { move: false });
  aloud(chosen === null ? say("maps.no_land") : nameOf(chosen));
  again();
}

const nameOf = (nth) => say("zones.nth", { nth: nth + 1, class: opened.zones[nth].class });

/** For a layer: the way into its zones, or what can be done to the one that is chosen. */
export function zonesByHand(layer) {
  if (opened?.name !== layer.name) {
    return make("button", { type: "button", "data-key": `zones ${layer.name}`, onclick: () => openZones(layer.name) }, say("zones.open"));
  }
  return make("div", { class: "form by-hand" },
    opened.editable ? [
      make("p", { class: "hint" }, say("zones.hint")),
      make("label", { for: "zone" }, count("zones.opened", opened.zones.length)),
      make("select", { id: "zone", "data-key": "zone", onchange: (event) => choose(Number(event.target.value)) },
        make("option", { value: "-1" }, say("field.choose")), opened.zones.map((zone, nth) => make("option", { value: String(nth), selected: nth === chosen }, nameOf(nth)))),
      chosen === null ? null : changes(),
    ] : make("p", { class: "soft" }, opened.why_not),
    make("button", { type: "button", "data-key": "zones close", onclick: closeZones }, say("zones.close")));
}

function changes() {
  const of = { layer: opened.name, zone: opened.zones[chosen].nth };
  const done = async (action) => {
    if (await perform(action, say("zones.changed"))) drawing(null);
  };
  const other = make("select", { id: "zone-class", "data-key": "zone class" }, opened.classes.filter((name) => name !== opened.zones[chosen].class).map((name) => make("option", { value: name }, name)));
  const others = make("select", { id: "zone-to", "data-key": "zone to" }, opened.zones.map((zone, nth) => (nth === chosen ? null : make("option", { value: String(zone.nth) }, nameOf(nth)))).filter(Boolean));
  const side = make("select", { id: "zone-side", "data-key": "zone side" }, ["left", "right"].map((name) => make("option", { value: name }, say(`zones.${name}`))));
  const button = (key, words, does, off = false) => make("button", { type: "button", "data-key": `zone ${key}`, "aria-disabled": off ? "true" : null, onclick: off ? null : does }, words);
  return [
    make("label", { for: "zone-class" }, say("zones.other_class")), other,
    cut ? [
      make("p", { class: "hint" }, say("zones.draw")),
      make("label", { for: "zone-side" }, say("zones.side")), side,
      make("div", { class: "ways" },
        button("cut", count("zones.cut_now", cut.length), () => done({ do: "cut", ...of, line: stepsOf(cut), side: side.value, class: other.value }), cut.length < 2),
        button("no cut", say("zones.no_cut"), () => drawing(null))),
    ] : make("div", { class: "ways" },
      button("give", say("zones.give"), () => done({ do: "class", ...of, class: other.value })),
      button("begin cut", say("zones.cut"), () => drawing([]))),
    cut ? null : [make("label", { for: "zone-to" }, say("zones.join_to")), others, button("join", say("zones.join"), () => done({ do: "join", ...of, to: Number(others.value) }))],
  ];
}

function drawing(places) {
  cut = places;
  useTool(pointed, cut ?? []);
  if (cut) aloud(say("zones.draw"));
  again();
}

/** Places as they travel: the first, then steps; y to the north. */
function stepsOf(places) {
  const whole = places.map(({ x, y }) => [Math.round(x), Math.round(-y)]);
  return whole.flatMap(([x, y], nth) => (nth ? [x - whole[nth - 1][0], y - whole[nth - 1][1]] : [x, y]));
}
