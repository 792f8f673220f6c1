// Where the moisture of the seedbed is known on the day of sowing only, two plans are made: which of them is looked at, and
// what is open in each.

import { aloud } from "./aloud.js";
import { performing } from "./field.js";
import { make } from "./make.js";
import { look, state } from "./state.js";
import { count, say } from "./words.js";

/** The two plans as a choice, or null where there is one; `where`: the place on the page, for there are several. */
export function seedbedChoice(plan, where) {
  const both = plan?.seedbeds;
  if (!both) return null;
  return make("div", { class: "seedbeds", role: "group", "aria-label": say("seedbeds.title") }, both.both.map(({ seedbed, open }) => make("button", {
    type: "button", "data-key": `seedbed ${where} ${seedbed}`, "aria-pressed": String(seedbed === both.seen), onclick: () => see(seedbed),
  }, make("b", {}, say(`seedbeds.${seedbed}`)), open ? make("small", {}, ` ${count("seedbeds.open", open)}`) : null)));
}

async function see(seedbed) {
  if (state().plan?.seedbeds?.seen === seedbed) return;
  if (await performing(() => look(seedbed))) aloud(say("seedbeds.shown", { seedbed: say(`seedbeds.${seedbed}`) }));
}

/** What is looked at, with the choice of the other one and how it is chosen at the field. */
export function ofTwo(plan, where) {
  const both = plan?.seedbeds;
  if (!both) return null;
  return make("section", { class: "card" },
    seedbedChoice(plan, where),
    make("p", {}, say("seedbeds.is_shown", { seedbed: seenName(plan) })),
    make("details", { "data-key": `seedbed ${where} how` }, make("summary", { "data-key": `seedbed ${where} how summary` }, say("seedbeds.how")),
      make("ul", {}, both.how.map((line) => make("li", {}, line)))));
}

/** "dry seedbed" of the plan that is looked at; null for one plan. */
export const seenName = (plan) => (plan?.seedbeds ? say(`seedbeds.${plan.seedbeds.seen}`) : null);

/** So many decisions are open in the plan that is not looked at. */
export const openInOther = (plan) => plan?.seedbeds?.both.find(({ seedbed }) => seedbed !== plan.seedbeds.seen)?.open ?? 0;
