// What people call a setting of the job that is known by its path.

import { written } from "./state.js";
import { say, sayIfAny } from "./words.js";

/** The last key of a path that has a name for people; a number by class stands below it. */
const knownKey = (path) => path.findLast((key) => typeof key === "string" && sayIfAny(`fields.${key}`));

/** "Spring barley: Seeds that become plants, sand". */
export function nameOf(path) {
  const known = knownKey(path);
  const last = path.at(-1);
  const name = known ? say(`fields.${known}`) : String(last).replaceAll("_", " ");
  const part = known && known !== last && typeof last === "string" ? `${name}, ${last}` : name;
  const of = path.findLastIndex((key) => typeof key === "number");
  const entry = of < 0 ? null : written([...path.slice(0, of + 1), "name"]) ?? written([...path.slice(0, of + 1), "id"]);
  return entry ? `${path.includes("hopper") && path[0] === "drill" ? say("sums.hopper", { hopper: entry }) : entry}: ${part}` : part;
}

/** Its unit for people, or null. */
export const unitOf = (path) => sayIfAny(`units.${knownKey(path)}`);
