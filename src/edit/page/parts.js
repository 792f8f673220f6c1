// The parts of the page: one is open, the address says which, and a way leads from anywhere to the field of a setting.

import { begin } from "./begin.js";
import { isFarm } from "./farm.js";
import { keyOf } from "./field.js";
import { replaceKeeping } from "./keep.js";
import { find, findAll, make } from "./make.js";
import { otherFields } from "./others.js";
import { bags } from "./part_bags.js";
import { bouts } from "./part_bouts.js";
import { clear } from "./part_clear.js";
import { ground } from "./part_ground.js";
import { farmPart } from "./part_farm.js";
import { handover } from "./part_handover.js";
import { rates } from "./part_rates.js";
import { settle } from "./part_settle.js";
import { state } from "./state.js";
import { openMatters } from "./top.js";
import { say } from "./words.js";

const PARTS = { farm: farmPart, ground, bags, rates, clear, bouts, settle, handover };
/** On a narrow screen the maps are a part of their own; on a wide one they are always there. */
const MAPS = "maps";
const narrow = window.matchMedia("(max-width: 820px)");
let opened = null;

const wanted = () => {
  const name = window.location.hash.slice(1);
  if (name === MAPS) return narrow.matches ? MAPS : "rates";
  return name in PARTS ? name : narrow.matches ? MAPS : "rates";
};

export function showNavigation(root) {
  const open = state() ? openMatters(state()) : 0;
  replaceKeeping(root, make("ul", {}, [MAPS, ...Object.keys(PARTS)].filter((name) => name !== "farm" || isFarm()).map((name) => make("li", { class: name === MAPS ? "only-narrow" : null },
    make("a", { href: `./#${name}`, "data-key": `part ${name}`, "aria-current": name === opened ? "page" : null }, say(`parts.${name}`),
      name === "settle" && open ? make("span", { class: "badge", "aria-label": say("parts.open", { count: open }) }, String(open)) : null)))));
}

/** Shows the open part anew, with what the user is at kept. */
export function showPart() {
  const now = state();
  if (now && !now.job) {
    begin();
    return;
  }
  const name = wanted();
  const changed = opened !== name;
  opened = name;
  document.body.dataset.part = name;
  const title = make("h2", { id: "part-title", tabindex: "-1", "data-key": `title ${name}` }, say(`parts.${name === MAPS ? "rates" : name}`));
  const content = (now ? (PARTS[name] ?? rates)(now) : []).flat(Infinity).filter(Boolean);
  const others = now ? otherFields(content, (path) => homeOf(path) === name) : null;
  replaceKeeping(find("#part"), title, others, ...content);
  showNavigation(find("#parts"));
  // On a narrow screen the open part may lie beyond the edge.
  if (changed) find("#parts [aria-current]")?.scrollIntoView({ block: "nearest", inline: "nearest" });
}

export function partsByAddress() {
  const change = () => {
    showPart();
    find("#part-title").focus({ preventScroll: true });
    find("#work").scrollTop = 0;
    window.scrollTo({ top: 0 });
  };
  window.addEventListener("hashchange", change);
  narrow.addEventListener("change", showPart);
}

/** Opens a part without leaving the present one on a wide screen, if asked to `stay`. */
export function goToPart(name, { stay = false } = {}) {
  if (stay && !narrow.matches) return;
  window.location.hash = name;
}

const HOME = { field: "ground", layer: "ground", drill: "bouts", drive: "bouts", headland: "bouts", tramline: "bouts", spreader: "bouts", trial: "bouts", mixture: "bags", refill: "bouts", exclusion: "clear", setback: "clear", special_area: "clear", seedbed: "rates", seed_safe: "rates", own_seed_limit: "rates" };
const RATES = ["rate", "adjust", "limits", "limits_lb_per_acre"];

/** The part that has the field of a setting. */
const homeOf = (path) => (path[0] === "product" ? (RATES.includes(path[2]) ? "rates" : "bags") : HOME[path[0]] ?? "ground");

/** Opens the part that has a setting, and puts the focus into its field. */
export function goToField(path) {
  const home = homeOf(path);
  const focus = () => {
    const fields = findAll("#part [data-key]");
    const key = keyOf(path);
    // The field itself, or the nearest one around or below it.
    const found = fields.find((one) => one.dataset.key === key) ?? fields.find((one) => one.dataset.key.startsWith(`${key} `)) ?? fields.find((one) => key.startsWith(`${one.dataset.key} `) && one.dataset.key.startsWith("at "));
    (found ?? find("#part-title")).focus();
    found?.select?.();
    found?.scrollIntoView({ block: "center" });
  };
  if (wanted() === home) focus();
  else {
    window.location.hash = home;
    window.addEventListener("hashchange", () => requestAnimationFrame(focus), { once: true });
  }
}
