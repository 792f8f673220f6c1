// Words for people, all from one file of texts that the engine hands out.

import { get } from "./engine.js";

let texts = {};

export async function loadWords() {
  texts = await get("/texts");
}

/** The text at "section.key", with {name} filled in. A text that is missing shows its key, so that it is found. */
export function say(key, fill = {}) {
  let text = texts;
  for (const part of key.split(".")) text = text?.[part];
  if (typeof text !== "string") return key;
  return text.replace(/\{(\w+)\}/g, (whole, name) => (name in fill ? fill[name] : whole));
}

/** The same, or null where there is no such text. */
export function sayIfAny(key, fill) {
  const text = say(key, fill);
  return text === key ? null : text;
}

/** "1 bout" or "3 bouts": a text with two forms, KEY_one and KEY_many. */
export const count = (key, number, fill = {}) => say(`${key}_${number === 1 ? "one" : "many"}`, { count: number, ...fill });
