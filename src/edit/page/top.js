// Always to be seen: which field, what is open, what is being worked out, and the names of what can be undone.

import { aloud, faultText, hideFault, showFault } from "./aloud.js";
import { replaceKeeping } from "./keep.js";
import { make } from "./make.js";
import { openInOther } from "./seedbeds.js";
import { redo, state, undo } from "./state.js";
import { count, say } from "./words.js";

export function top(root, now) {
  const { job, history, work, plan } = now;
  replaceKeeping(root, [
    make("div", { class: "field" },
      make("h1", {}, make("bdi", {}, job.field || job.name || say("top.no_name"))),
      make("p", { class: "soft" }, [job.farm, plan ? plan.area_text : null, plan?.id ? say("top.plan", { id: plan.id }) : null].filter(Boolean).join(" · "))),
    make("div", { class: "stands" }, readiness(now), working(work)),
    make("div", { class: "turns", role: "group", "aria-label": say("top.turns") },
      turn("undo", history.done.at(-1), "Control+Z"), turn("redo", history.undone.at(-1), "Control+Shift+Z")),
  ]);
}

/** How many matters are open: questions, decisions in all plans, and a fault that keeps the plan from being made. */
export function openMatters({ plan, open_settings: settings, fault }) {
  const decisions = plan?.decisions.filter((decision) => decision.open).length ?? 0;
  return settings.length + decisions + openInOther(plan) + (fault && !settings.length ? 1 : 0);
}

function readiness(now) {
  const open = openMatters(now);
  if (open) return make("a", { class: "pill open", href: "#settle", "data-key": "top settle" }, count("top.open", open));
  const ready = now.plan?.current && now.plan.whole;
  return make("span", { class: "pill" }, say(ready ? "top.ready" : "top.soon"));
}

function working({ stage, nth, of, what }) {
  if (stage === "none") return null;
  const name = say(`working.${stage}`);
  const step = of > 0 ? say("working.step", { what: what || name, nth, of }) : what;
  return make("span", { class: "working" },
    make("progress", of > 0 ? { value: String(nth), max: String(of), "aria-label": name } : { "aria-label": name }),
    make("span", {}, [name, step].filter(Boolean).join(": ")));
}

function turn(which, name, keys) {
  return make("button", {
    type: "button", class: "turn", "data-key": `top ${which}`, "aria-disabled": name ? null : "true", "aria-keyshortcuts": keys,
    title: name ? say(`top.${which}_name`, { name }) : null, onclick: () => go(which),
  }, make("b", {}, say(`top.${which}`)), make("span", {}, name ?? say("top.no_turn")));
}

async function go(which) {
  const { history } = state();
  const name = (which === "undo" ? history.done : history.undone).at(-1);
  if (!name) return aloud(say(`top.no_${which}`));
  try {
    await (which === "undo" ? undo() : redo());
    hideFault();
    aloud(say(`top.did_${which}`, { name }));
  } catch (refused) {
    showFault(refused.fault ?? { found: say("page.lost") });
    aloud(refused.fault ? faultText(refused.fault) : say("page.lost"));
  }
  return undefined;
}

/** Ctrl+Z and Ctrl+Shift+Z; in a field whose text is not yet sent they undo the typing, as everywhere. */
export function turnKeys() {
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey || event.key.toLowerCase() !== "z") return;
    if ("typed" in (document.activeElement?.dataset ?? {})) return;
    event.preventDefault();
    go(event.shiftKey ? "redo" : "undo");
  });
}
