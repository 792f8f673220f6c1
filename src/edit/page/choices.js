// What a form offers: crops with what is published as usual about them, tables, forms of fertiliser.

import { get } from "./engine.js";
import { written } from "./state.js";

let offered = { crops: [], fields: {} };

export async function loadChoices() {
  offered = await get("/choices");
}

export const choices = () => offered;

/** What publishers say is usual for a number of a seed: [{text, source}]. */
export function usualOf({ product, usual }, key) {
  if (usual) return usual;
  if (product === undefined) return [];
  const crop = written(["product", product, "crop"]) ?? written(["product", product, "id"]);
  const found = offered.crops?.find((one) => one.name === crop || one.names?.includes(crop));
  return found?.usual?.[key] ?? [];
}
