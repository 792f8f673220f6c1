// The maps side by side: one look, one crosshair, one place that is told about.

import { aloud, faultParts, faultText } from "./aloud.js";
import { get } from "./engine.js";
import { takeInHand } from "./hand.js";
import { hideHere, showHere } from "./here.js";
import { legend } from "./legend.js";
import { find, make } from "./make.js";
import { RateMap } from "./map.js";
import { groundLegend, samplesFor, samplesOn } from "./ground_maps.js";
import { around, rowAt, sceneOf, withDrive, withPlots } from "./scene.js";
import { seenName } from "./seedbeds.js";
import { state } from "./state.js";
import { hideTip, showTip } from "./tip.js";
import { View } from "./view.js";
import { say } from "./words.js";

export const view = new View();
/** What the user wants to see on the maps. */
export const shown = { rates: true, zones: true, headland: true, clear: true, held: true, bouts: false, balance: false, ground: false, trials: true };

let maps = [];
let scene = null;
const spreadScenes = new Map(); // by number of picture: the land of a spreader's plan
let driveOf = null;
let asking = null;
let chosen = []; // shapes that are marked
let pins = [];
let line = []; // places of a line that is being drawn
const onNewLand = [];
const onShown = [];
let tool = null; // takes the places that are pointed at, instead of telling about them
let hand = {}; // what else it wants to know, and how it is shown
let crossAt = null;

/** What there is to draw of a state: its plan, or, before there is one, the land with its zones. */
function landOf(now) {
  const { plan, ground } = now ?? {};
  if (plan) return { ...plan, grounds: shown.ground && scene ? scene.grounds : [] };
  return ground ? { ...ground, products: [], balances: [], drive: null, grounds: ground.maps } : null;
}

/** What each map is of: a product, what is left to broadcast of one as the spreader spreads it or as it is wanted, or the zones of
 * a layer. */
function subjects(plan) {
  const products = plan.products.map((product) => ({ key: `product-${product.id}`, of: product, nth: product.nth, balance: false }));
  const spread = new Map((plan.spread ?? []).map((map) => [map.of, map]));
  const left = !shown.balance ? [] : plan.balances.map((balance) => {
    const own = spread.get(balance.of);
    return own ? { key: `spread-${own.of}`, of: own, nth: 9, balance: true, spread: true } : { key: `balance-${balance.of}`, of: balance, nth: 9, balance: true };
  });
  const land = plan.grounds.map((of) => ({ key: `ground-${of.nth ?? "field"}`, of, nth: 8, balance: false, ground: true }));
  return [...products, ...left, ...land];
}

function look(key) {
  const plan = landOf(state());
  const subject = plan && scene && subjects(plan).find((one) => one.key === key);
  const own = subject?.spread ? spreadScenes.get(subject.of.picture) : scene;
  if (!subject || !own || subject.of.colour.length !== own.rows.length) return null;
  const { colour, text, held } = subject.of;
  return { scene: own, fills: colour, texts: text, held, shown, samples: subject.ground ? samplesOn(samplesFor(subject.of, scene.picture, redrawSamples), subject.of) : null };
}

const marks = () => ({
  chosen,
  line,
  hand,
  cross: crossAt,
  pins: [...pins, ...(shown.bouts && scene ? scene.refills : []), ...entrance()],
  units: scene ? { perUnit: scene.perM * (state()?.units.length === "ft" ? 0.3048 : 1), unit: state()?.units.length ?? "m" } : null,
});

/** Where the drill enters. */
function entrance() {
  const at = state()?.plan?.entrance;
  return at ? [{ x: at[0], y: -at[1], text: say("maps.entrance_sign"), gate: true }] : [];
}

/** Takes a state: new outlines are fetched only where the land has changed; else only the colours are new. */
export async function takeState(next) {
  const plan = landOf(next);
  if (!plan) return showNothing();
  if (shown.balance) spreadLand(plan);
  if (scene?.picture === plan.picture && scene.rows.length === plan.rows.length) {
    withPlots(scene, plan.trials);
    paintAll(plan);
    return takeDrive(plan);
  }
  if (asking === plan.picture) return undefined;
  asking = plan.picture;
  let picture = null;
  try {
    picture = await get(`/picture/${plan.picture}`);
  } catch {
    return undefined; // A newer one is there, and comes with the next state.
  } finally {
    asking = null;
  }
  const now = landOf(state());
  if (!now || now.picture !== plan.picture) return now ? takeState(state()) : undefined;
  scene = withPlots(sceneOf(picture, now.rows), now.trials);
  for (const then of onNewLand) then();
  chosen = [];
  driveOf = null;
  // Maps are as wide to high as the field, within bounds, with room for scale bar and arrow.
  find("#maps").style.setProperty("--shape", String(Math.min(1.9, Math.max(0.8, scene.whole.width / (scene.whole.height * 1.14)))));
  view.setWhole(scene.whole);
  paintAll(now);
  return takeDrive(now);
}

/** Fetches the land of the spreader's maps, where it is not known yet. */
async function spreadLand(plan) {
  const wanted = (plan.spread ?? []).filter(({ picture }) => !spreadScenes.has(picture));
  await Promise.all(wanted.map(async ({ picture, rows }) => {
    try {
      spreadScenes.set(picture, sceneOf(await get(`/picture/${picture}`), rows));
      redraw();
    } catch {
      // A newer one is there, and comes with the next state.
    }
  }));
  const now = new Set((state()?.plan?.spread ?? []).map(({ picture }) => picture));
  for (const picture of spreadScenes.keys()) if (!now.has(picture)) spreadScenes.delete(picture);
}

async function takeDrive(plan) {
  if (!shown.bouts || !plan.drive || driveOf === plan.drive) return;
  driveOf = plan.drive;
  try {
    withDrive(scene, await get(`/drive/${plan.drive}`));
    redraw();
  } catch {
    driveOf = null; // A newer drive is on its way, and comes with the next state.
  }
}

function showNothing() {
  scene = null;
  maps = [];
  find("#maps").replaceChildren(groundFault() ?? make("p", { class: "nothing" }, say(state()?.fault ? "maps.nothing_fault" : "maps.nothing")));
}

/** Why the land, or a part of it, cannot be drawn before there is a plan. */
function groundFault() {
  const fault = state()?.ground_fault;
  return fault ? make("div", { class: "fault-box" }, make("p", {}, faultParts(fault))) : null;
}

/** Points or pixels have come: what they lie on is drawn again, and their legend. */
function redrawSamples() {
  redraw();
  legends();
}

function paintAll(plan) {
  const wanted = subjects(plan);
  if (maps.map((map) => map.key).join() !== wanted.map((one) => one.key).join()) build(wanted);
  for (const map of maps) {
    const { colour, text, held } = wanted.find((one) => one.key === map.key).of;
    const drawn = `${scene.picture} ${colour} ${text} ${held} ${scene.plots.length ? scene.plots.map((plot) => plot.text) : ""}`;
    if (drawn !== map.drawn) map.picture.redraw();
    map.drawn = drawn;
  }
  requestAnimationFrame(() => setTimeout(() => {
    // For whoever measures how long a picture takes: now it is on the screen.
    performance.mark("on the maps");
    legends();
  }));
}

/** Names and legends of the maps, as the last state has them. */
function legends() {
  const plan = landOf(state());
  if (!plan || !scene) return;
  for (const map of maps) {
    const subject = subjects(plan).find((one) => one.key === map.key);
    if (!subject) continue;
    map.name.textContent = subject.of.name;
    if (subject.ground) {
      map.what.textContent = say(subject.of.nth === undefined ? "maps.bare" : "maps.zones");
      map.canvas.setAttribute("aria-label", say("maps.keys", { name: subject.of.name }));
      groundLegend(map.legend, subject, { choose: chooseRows, samples: samplesFor(subject.of, scene.picture, redrawSamples), again: redrawSamples });
      continue;
    }
    const what = say(subject.spread ? "maps.by_spreader" : subject.balance ? "maps.to_broadcast" : "maps.unit", { unit: subject.of.rate_unit ?? state().units.rate, hopper: subject.of.hopper, width: subject.of.width_text });
    map.what.textContent = [what, seenName(plan)].filter(Boolean).join(" · ");
    map.canvas.setAttribute("aria-label", say("maps.keys", { name: subject.of.name }));
    legend(map.legend, subject, { choose: (rows) => chooseRows(rows, { of: subject.spread ? spreadScenes.get(subject.of.picture) ?? null : scene }) });
  }
}

function build(wanted) {
  maps = wanted.map(({ key, nth }) => {
    const canvas = make("canvas", { tabindex: "0", role: "application", "aria-describedby": "map-help", "data-map": key });
    const name = make("bdi");
    const what = make("span", { class: "soft" });
    const map = { key, canvas, name, what, legend: make("div", { class: "legend" }) };
    map.figure = make("figure", { class: `rate-map of${nth}` },
      make("figcaption", {}, make("h3", {}, name), what), make("div", { class: "ground" }, canvas), map.legend);
    map.picture = new RateMap(canvas, view, () => look(key), marks);
    takeInHand(canvas, view, { told: tell, over: hover, cross: { get: () => crossAt, set: setCross }, left: leave, other: (name) => Boolean(tool && hand.key?.(name)), grab: (place) => Boolean(tool && hand.grab?.(place)) });
    canvas.addEventListener("focus", () => { if (canvas.matches(":focus-visible")) setCross(crossAt ?? { x: view.x, y: view.y }); });
    return map;
  });
  const help = make("p", { class: "quiet", id: "map-help" }, say("maps.help"));
  find("#maps").replaceChildren(...[groundFault(), help, ...maps.map((map) => map.figure)].filter(Boolean));
  const sizes = new ResizeObserver(measure);
  for (const { canvas } of maps) sizes.observe(canvas.parentElement);
  measure();
}

function measure() {
  const box = maps[0]?.canvas.parentElement.getBoundingClientRect();
  if (box?.width) view.setSize(Math.floor(box.width), Math.floor(box.height));
}

export function redraw() {
  for (const { picture } of maps) picture.redraw();
}

const repaint = () => { for (const { picture } of maps) picture.paintSoon(); };

/** Draws all again after a choice of what is shown. */
export function showOthers() {
  if (landOf(state())) takeState(state());
  redraw();
  for (const then of onShown) then();
}

function setCross(from, dx = 0, dy = 0) {
  crossAt = { x: from.x + dx, y: from.y + dy };
  const [right, low] = view.toScreen(crossAt.x, crossAt.y);
  if (right < 20 || low < 20 || right > view.size.width - 20 || low > view.size.height - 20) view.set(crossAt.x, crossAt.y, view.perPixel);
  repaint();
  if (tool && hand.over) hand.over(crossAt);
  else if (dx || dy) readCross();
}

let reading = 0;
function readCross() {
  clearTimeout(reading);
  reading = setTimeout(() => {
    if (!crossAt) return;
    const row = scene ? rowAt(scene, crossAt) : -1;
    aloud(row < 0 ? say("maps.no_land") : ratesOf(row).map(({ name, text }) => `${name}: ${text}`).join(", "));
  }, 250);
}

function ratesOf(row) {
  const { plan, ground, units } = state();
  // Before there are rates, what is known of a place is its class in each layer.
  if (!plan) return ground.maps.map(({ name, text }) => ({ name, text: text[row] }));
  return plan.products.map(({ name, text }) => ({ name, text: `${text[row]} ${units.rate}` }));
}

function hover(place, event) {
  if (tool && hand.over) {
    hideTip();
    hand.over(place);
    return;
  }
  const row = place && scene ? rowAt(scene, place) : -1;
  if (row < 0) hideTip();
  else showTip(ratesOf(row), event);
}

/** Tells about a place of the plane: both rates with every reason. */
export async function tell(place) {
  hideTip();
  crossAt = place;
  if (tool) {
    tool(place);
    repaint();
    return;
  }
  if (!scene || rowAt(scene, place) < 0) {
    chosen = [];
    hideHere();
    aloud(say("maps.no_land"));
    repaint();
    return;
  }
  if (!state().plan) {
    const row = rowAt(scene, place);
    chosen = [scene.rows[row].shape];
    aloud(ratesOf(row).map(({ name, text }) => `${name}: ${text}`).join(", "));
    repaint();
    return;
  }
  try {
    const told = await get(`/explain?x=${Math.round(place.x)}&y=${Math.round(-place.y)}`);
    chosen = [scene.rows[told.row - 1].shape];
    showHere(told);
  } catch (refused) {
    chosen = [];
    hideHere();
    aloud(refused.fault ? faultText(refused.fault) : say("page.lost"));
  }
  repaint();
}

/** Tells about the place anew that is told about, where another plan is looked at now. */
export function tellAgain() {
  if (!tool && crossAt && !find("#here").hidden) tell(crossAt);
}

/** Marks rows on all maps and moves there. */
export function chooseRows(rows, { move = true, of = scene } = {}) {
  chooseShapes(of ? rows.map((row) => of.rows[row]?.shape).filter(Boolean) : [], { move });
}

/** Marks shapes on all maps and moves there. */
export function chooseShapes(shapes, { move = true } = {}) {
  chosen = shapes;
  const extent = around(shapes);
  if (extent && move) view.show(extent);
  repaint();
}

/** Calls `then` when the user has chosen what is shown. */
export const whenShownChanges = (then) => onShown.push(then);

/** Calls `then` when outlines have changed. */
export const whenLandChanges = (then) => onNewLand.push(then);

/** Hands every place that is pointed at to `then`, until it is taken back with null; `drawn`: places of a line to show. `also`:
 * `over(place)` is told where the hand is, `back()` of Escape, `key(name)` of other keys; `closed` and `caught` are shown. */
export function useTool(then, drawn = [], also = {}) {
  tool = then;
  line = drawn;
  hand = also;
  repaint();
}

/** Goes to a place in the engine's units, with a pin on it. */
export function goTo([x, y], text = "!") {
  pins = [{ x, y: -y, text }];
  crossAt = { x, y: -y };
  view.set(x, -y, Math.min(view.perPixel, view.widest() / 3));
  repaint();
}

export const mapOf = (nth = 0) => maps[nth]?.canvas;

function leave() {
  if (tool && hand.back?.()) return;
  chosen = [];
  pins = [];
  crossAt = null;
  hideHere();
  repaint();
}
export const leavePlace = leave;
