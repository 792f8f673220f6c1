// Files that are dropped or chosen: each is described at once, and what it is for is asked where it is not plain.

import { aloud, hideFault, showFault } from "./aloud.js";
import { sendFile } from "./engine.js";
import { perform } from "./field.js";
import { make } from "./make.js";
import { sketch } from "./sketch.js";
import { written } from "./state.js";
import { count, say } from "./words.js";

let described = []; // newest first
let again = () => {};

/** Called when a file has been described, so that it is shown. */
export function whenDescribed(then) {
  again = then;
}

export const filesDescribed = () => described;

/** The place to drop files on, which is also the button to choose them, and the files taken so far. */
export function drop({ uses = usesInJob } = {}) {
  const input = make("input", { type: "file", multiple: true, class: "quiet", id: "files", "data-key": "files", onchange: (event) => takeFiles([...event.target.files]) });
  const area = make("div", { class: "drop" }, input, make("label", { for: "files", class: "choose" }, say("files.choose")), make("p", { class: "soft" }, say("files.kinds")));
  area.addEventListener("dragover", (event) => {
    event.preventDefault();
    area.classList.add("over");
  });
  area.addEventListener("dragleave", () => area.classList.remove("over"));
  area.addEventListener("drop", (event) => {
    event.preventDefault();
    area.classList.remove("over");
    takeFiles([...event.dataTransfer.files]);
  });
  return make("div", {}, area, described.map((one) => card(one, uses)));
}

export async function takeFiles(files) {
  for (const file of files) {
    try {
      const found = await sendFile(file);
      described = [found, ...described.filter((one) => one.file !== found.file)];
      hideFault();
      aloud(say("files.taken", { file: found.file }));
    } catch (refused) {
      showFault(refused.fault ?? { found: say("page.lost"), place: {} });
    }
    again();
  }
}

function card(one, uses) {
  const layers = one.layers ?? [];
  return make("article", { class: "file" },
    make("h4", {}, make("bdi", {}, one.file)),
    layers.map((layer) => make("div", {},
      sketch(layer, say("files.sketch", { file: one.file })),
      make("p", {}, [layer.format, layer.table, layer.kinds?.length > 1 ? layer.kinds.map(([kind, many]) => `${many} ${kind}`).join(", ") : count("files.features", layer.features), layer.area_text, layer.crs].filter(Boolean).join(" · ")),
      layer.fault ? make("p", { class: "refused" }, layer.fault.found ?? layer.fault.text) : null,
      layer.attributes?.length ? make("details", { "data-key": `file ${one.file} ${layer.table ?? ""}` },
        make("summary", { "data-key": `file ${one.file} ${layer.table ?? ""} summary` }, count("files.columns", layer.attributes.length)),
        make("ul", {}, layer.attributes.map(column))) : null,
      layer.fault ? null : uses(one, layer))),
    one.raster ? make("div", {}, make("p", {}, say("files.raster")), make("pre", {}, one.raster.text),
      one.raster.fault ? make("p", { class: "refused" }, one.raster.fault.found) : uses(one, null)) : null);
}

function column({ name, distinct, lowest, mean, highest, classes }) {
  const values = (classes ?? []).slice(0, 8).map(({ value }) => value).join(", ");
  const range = lowest === null || lowest === undefined ? null : say("files.range", { lowest, mean, highest });
  return make("li", {}, make("b", {}, name), ": ", [say("files.distinct", { count: distinct }), values || range].filter(Boolean).join("; "));
}

/** Buttons that put a file to use in the open job: zones, left out, kept clear. */
function usesInJob(one, layer) {
  const source = layer?.table ? { file: one.file, table: layer.table } : { file: one.file };
  const attributes = layer?.attributes ?? [];
  const id = `use-${one.file}-${layer?.table ?? ""}`.replaceAll(/[^\w-]/g, "_");
  const name = make("input", { type: "text", id: `${id}-name`, "data-key": `${id} name`, value: one.file.replace(/\.[^.]+$/, ""), autocomplete: "off" });
  const by = make("select", { id: `${id}-by`, "data-key": `${id} by` }, attributes.map((attribute) => make("option", { value: attribute.name, selected: attribute.name === layer.class_attribute }, attribute.name)));
  const add = (table, entry, words) => make("button", { type: "button", "data-key": `${id} ${table}`, onclick: () => perform({ do: "add", table, entry: entry() }, say("files.added", { name: name.value })) }, say(words));
  const products = (written(["product"]) ?? []).filter(({ kind }) => kind !== "seed").map((product) => product.id);
  const points = layer && (layer.kinds ?? []).some(([kind]) => /point/i.test(kind));
  const zones = () => (layer && !points
    ? { name: name.value, source, class_attribute: by.value }
    : { name: name.value, source, values: { method: "quantiles", classes: 3, ...(points ? { column: by.value, surface: "inverse_distance" } : {}) } });
  return make("div", { class: "form" },
    make("label", { for: name.id }, say("files.name")), name,
    attributes.length ? [make("label", { for: by.id }, say(points ? "files.value_column" : "files.class_column")), by] : null,
    make("div", { class: "ways" },
      add("layer", zones, "files.use_zones"),
      layer ? add("exclusion", () => ({ name: name.value, source, buffer_m: points ? "?" : 0 }), "files.use_out") : null,
      layer ? add("setback", () => ({ name: name.value, source, distance_m: "?", products }), "files.use_clear") : null));
}
