// Zones by hand: a zone is pointed at, gets another class, is joined to a neighbour, or is cut with a line.
// The page points; the engine does the geometry.

import { aloud, showFault } from "./aloud.js";
import { stepsOf } from "./catch.js";
import { beginDrawing, drawing as drawingNow, endDrawing, whenDrawn } from "./drawing.js";
import { get } from "./engine.js";
import { numberOf, perform } from "./field.js";
import { make } from "./make.js";
import { chooseShapes, useTool, whenLandChanges } from "./maps.js";
import { flipped } from "./scene.js";
import { Shape } from "./shapes.js";
import { state } from "./state.js";
import { count, say } from "./words.js";

let opened = null; // what the engine says of the layer, each zone with its shape
let chosen = null; // number of a zone
let cut = null; // places of a line, while one is drawn
let before = null; // land of each class before the latest change of borders: { totals, of: the zones as they were }
let again = () => {};

export function whenZonesCame(then) {
  again = then;
}

// Numbers and outlines of zones hold only for the land as it was.
whenLandChanges(() => {
  // What was before is told until the land changes once more.
  if (before?.of !== opened) before = null;
  if (opened) openZones(opened.name);
});

// A drawing takes the hand; afterwards zones are pointed at again.
whenDrawn((now) => { if (!now && opened?.editable) useTool(pointed, cut ?? []); });

async function openZones(name) {
  try {
    opened = await get(`/layer?name=${encodeURIComponent(name)}`);
    for (const zone of opened.zones ?? []) zone.shape = new Shape(flipped(zone.rings));
    chosen = null;
    cut = null;
    if (opened.editable && !drawingNow()) useTool(pointed);
    aloud(opened.editable ? say("zones.hint") : opened.why_not);
  } catch (refused) {
    showFault(refused.fault ?? { found: say("page.lost"), place: {} });
  }
  again();
}

function closeZones() {
  // One tool at a time.
  endDrawing();
  opened = null;
  before = null;
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
      borders(),
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

/** What is done to borders, whatever zone they belong to. */
function borders() {
  const layer = opened.name;
  const now = async (change) => {
    before = { totals: opened.totals, of: opened };
    if (!(await perform({ do: "border", layer, change }, say("zones.changed")))) before = null;
    again();
  };
  const move = () => beginDrawing("move", "move", {
    about: { layer },
    then: async ([x, y, dx, dy]) => {
      await now({ move: { from: [x, y], to: [x + dx, y + dy] } });
      endDrawing();
    },
  });
  const run = () => beginDrawing("run", "run", {
    about: { layer },
    then: async (line) => {
      await now({ run: { line } });
      endDrawing();
    },
  });
  const smooth = () => {
    const by = numberOf(within.value);
    if (by === undefined) showFault({ found: say("field.no_number", { text: within.value }), next: say("field.no_number_next"), place: {} });
    else now({ smooth: { within: state().units.length === "ft" ? { ft: by } : { m: by } } });
  };
  const button = (key, does) => make("button", { type: "button", "data-key": `zones ${key}`, onclick: does }, say(`zones.${key}`));
  const within = make("input", { type: "text", id: "zones-within", "data-key": "zones within", inputmode: "decimal", autocomplete: "off", oninput: (event) => { event.target.dataset.typed = ""; } });
  return [
    make("h4", {}, say("zones.borders")),
    make("div", { class: "ways" }, button("move", move), button("run", run), button("around", () => beginDrawing("around", "outline", { about: { layer, classes: opened.classes } })), button("narrow", () => now("narrow"))),
    make("p", { class: "soft" }, say("zones.narrow_is")),
    make("label", { for: within.id }, say("zones.within"), make("span", { class: "unit" }, ` ${state().units.length}`)), within,
    make("div", { class: "ways" }, button("smooth", smooth)),
    before ? beforeAndAfter() : null,
  ];
}

/** Land of each class before and after the latest change of borders. */
function beforeAndAfter() {
  const now = before.of === opened ? null : opened.totals;
  const of = (totals, name) => (totals ? totals.find((one) => one.class === name)?.area_text ?? say("legend.none") : say("sums.late"));
  const names = [...new Set([...before.totals, ...now ?? []].map((one) => one.class))];
  return make("table", {}, make("caption", {}, say("zones.land_of")),
    make("thead", {}, make("tr", {}, [opened.name, say("zones.was"), say("zones.is")].map((words, nth) => make("th", { scope: "col", class: nth ? "number" : null }, words)))),
    make("tbody", {}, names.map((name) => make("tr", {}, make("th", { scope: "row" }, name), [before.totals, now].map((totals) => make("td", { class: "number" }, of(totals, name)))))));
}

function drawing(places) {
  endDrawing();
  cut = places;
  useTool(pointed, cut ?? []);
  if (cut) aloud(say("zones.draw"));
  again();
}

