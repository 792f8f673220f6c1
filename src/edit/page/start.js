// Where the page begins: words, choices and the first state are asked for side by side; then every state is shown.

import { aloud } from "./aloud.js";
import { whenBegun } from "./begin.js";
import { loadChoices } from "./choices.js";
import { get } from "./engine.js";
import { farmNow, isFarm, lookAtFarm, whenFarmCame } from "./farm.js";
import { whenRefused } from "./field.js";
import { whenDescribed } from "./files.js";
import { whenHereCloses } from "./here.js";
import { find, make } from "./make.js";
import { leavePlace, takeState, tellAgain, whenShownChanges } from "./maps.js";
import { notices } from "./notices.js";
import { whenDriven } from "./part_bouts.js";
import { whenFarmChanges } from "./part_farm.js";
import { whenHandedOver } from "./part_handover.js";
import { partsByAddress, showPart } from "./parts.js";
import { follow, onState, state } from "./state.js";
import { sums } from "./sums.js";
import { keys, tools } from "./tools.js";
import { top, turnKeys } from "./top.js";
import { loadWords, say, spoken } from "./words.js";
import { whenZonesCame } from "./zones.js";

// A job in another language has come onto the desk: its words first, then all is shown anew.
let asked = null;
async function speak(language) {
  if (asked === language) return;
  asked = language;
  try {
    await loadWords(language);
  } catch {
    return; // The engine does not answer; the next state asks again.
  } finally {
    asked = null;
  }
  fixedWords();
  show(state(), null);
}

function fixedWords() {
  find("#skip").textContent = say("page.skip");
  find("#parts").setAttribute("aria-label", say("page.parts"));
  find("#land-title").textContent = say("maps.title");
  find("#foot").replaceChildren(...["page.english", "page.foot"].map((key) => say(key)).filter(Boolean).map((words) => make("p", {}, words)));
}

// What stays in sight above takes room from what scrolls below it.
function roomAbove() {
  const above = find("#above");
  new ResizeObserver(() => document.documentElement.style.setProperty("--above", `${above.offsetHeight}px`)).observe(above);
}

/** Around the maps and the part: what changes with every state. */
function showAround(now) {
  top(find("#top"), now);
  notices(now);
  tools(find("#tools"), now);
  keys(find("#keys"), now);
}

let restAsked = false;
function showRestSoon() {
  if (restAsked) return;
  restAsked = true;
  requestAnimationFrame(() => setTimeout(() => {
    restAsked = false;
    showAround(state());
    showPart();
  }));
}

function show(now, before) {
  if (now.language !== spoken()) {
    speak(now.language);
    return;
  }
  if (before && before.of_farm !== now.of_farm) lookAtFarm();
  if (!now.job) {
    showPart();
    return;
  }
  document.body.classList.remove("beginning");
  document.title = `${now.job.field || now.job.name || "?"} · twinsow`;
  // Maps and sums first: they are what a changed number is looked for on. All else comes once they are on the screen, and
  // of several states in a row only the last.
  takeState(now);
  if (before?.plan?.seedbeds && before.plan.seedbeds.seen !== now.plan?.seedbeds?.seen) tellAgain();
  sums(find("#sums"), now);
  showRestSoon();
  if (before && before.work.stage !== "none" && now.work.stage === "none" && before.work.stage === "drive") aloud(say("working.done"));
}

async function main() {
  const first = get("/state");
  const others = Promise.allSettled([loadChoices(), lookAtFarm()]);
  await loadWords();
  fixedWords();
  roomAbove();
  turnKeys();
  partsByAddress();
  onState((now, before) => { show(now, before); });
  for (const whenever of [whenRefused, whenDescribed, whenDriven, whenHandedOver, whenFarmCame, whenFarmChanges, whenBegun, whenZonesCame]) whenever(() => { if (state()) show(state(), state()); });
  window.addEventListener("hashchange", () => { if (window.location.hash === "#farm") lookAtFarm(); });
  whenHereCloses(leavePlace);
  whenShownChanges(() => showAround(state()));
  let lostNow = false;
  await follow(first, (lost) => {
    if (lost !== lostNow) notices(state(), lost);
    lostNow = lost;
  });
  await others;
  // A folder of several fields opens on all of them.
  if (isFarm() && farmNow().of_folder && !window.location.hash) window.location.hash = "farm";
  showPart();
}

main();
