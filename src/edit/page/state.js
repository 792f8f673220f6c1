// What the engine said last, and who wants to hear of it. Every change of the job goes through `act`.

import { get, post } from "./engine.js";

let now = null;
const listeners = [];

export const state = () => now;

/** Calls `then(state, before)` after every state that is taken, in the order of asking. */
export function onState(then) {
  listeners.push(then);
}

function take(next) {
  // What an action answers comes again to whoever waits for news.
  if (now && next.beat <= now.beat) return;
  const before = now;
  now = next;
  for (const then of listeners) then(now, before);
}

// One change after the other, so that none overtakes another.
let last = Promise.resolve();

function inTurn(path, body) {
  const mine = last.then(async () => {
    const answer = await post(path, body);
    take(answer);
    return answer;
  });
  last = mine.catch(() => {});
  return mine;
}

/** One action; the promise fails with `Refused`, and the job is as it was. */
export const act = (action) => inTurn("/act", action);
export const undo = () => inTurn("/undo");
export const redo = () => inTurn("/redo");
/** Looks at the plan for a moist or a dry seedbed; the job stays as it is. */
export const look = (seedbed) => inTurn("/seedbed", { seedbed });
export const reload = () => inTurn("/reload");
export const open = (file) => inTurn("/open", { file });
export const start = (answers) => inTurn("/start", answers);

/** Takes the first state (a promise of it), then waits for every later one. `lost(true)` when nobody answers any more. */
export async function follow(first, lost) {
  take(await first);
  (async () => {
    for (;;) {
      try {
        take(await get(`/state?after=${now.beat}`));
        lost(false);
      } catch {
        lost(true);
        await new Promise((then) => { setTimeout(then, 1500); });
      }
    }
  })();
}

/** What stands in the job file at a path; undefined where nothing does. */
export function written(path) {
  let value = now?.job?.values;
  for (const key of path) value = value?.[key];
  return value;
}
