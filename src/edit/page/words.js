// Words for people, all from the file of texts of one language that the engine hands out, and numbers as that language writes them.

import { get } from "./engine.js";

let texts = {};
let plural = new Intl.PluralRules("en");
let mark = ".";

/** The words of a language; without one those of the job, or of the machine where there is no job. */
export async function loadWords(language) {
  texts = await get(language ? `/texts?language=${language}` : "/texts");
  document.documentElement.lang = spoken();
  plural = new Intl.PluralRules(spoken());
  mark = new Intl.NumberFormat(spoken()).formatToParts(0.5).find(({ type }) => type === "decimal").value;
}

/** The language of the words. */
export const spoken = () => say("page.language");

/** What parts whole and fraction of a number. */
export const decimalMark = () => mark;

/** A number with that mark. */
export const numeral = (number) => String(number).replace(".", mark);

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

/** "1 bout" or "3 bouts": a text with the forms KEY_one and KEY_many, in some languages also KEY_few, chosen by the plural rules of
 * CLDR that the browser has. */
export const count = (key, number, fill = {}) => say(`${key}_${{ one: "one", few: "few" }[plural.select(number)] ?? "many"}`, { count: number, ...fill });
