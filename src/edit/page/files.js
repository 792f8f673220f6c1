// Files that are dropped or chosen: each is described at once, and what it is for is asked where it is not plain.

import { aloud, faultParts, hideFault, showFault } from "./aloud.js";
import { get, sendFile } from "./engine.js";
import { perform } from "./field.js";
import { make } from "./make.js";
import { sketch } from "./sketch.js";
import { written } from "./state.js";
import { count, numeral, say } from "./words.js";

let described = []; // newest first
const answers = new Map(); // by file: what it does not say itself, as keys of a source in the job
let again = () => {};

/** The fault of a layer or raster whose CRS nobody has said. */
const NO_CRS = "frame.crs_missing";

/** Called when a file has been described, so that it is shown. */
export function whenDescribed(then) {
  again = then;
}

export const filesDescribed = () => described;

/** A file as the job names it, with what was answered about it. */
export const sourceOf = ({ file }, layer) => ({ file, ...(layer?.table ? { table: layer.table } : {}), ...answers.get(file) });

/** The place to drop files on, which is also the button to choose them, and the files taken so far. */
export function drop({ uses = usesInJob, level = "h4" } = {}) {
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
  return make("div", {}, area, described.map((one) => card(one, uses, level)));
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

function card(one, uses, level) {
  const layers = one.layers ?? [];
  return make("article", { class: "file" },
    make(level, {}, make("bdi", {}, one.file)),
    layers.map((layer) => make("div", {},
      sketch(layer, say("files.sketch", { file: one.file })),
      make("p", {}, [layer.format, layer.table, layer.kinds?.length > 1 ? layer.kinds.map(([kind, many]) => `${many} ${kind}`).join(", ") : layer.columns ? null : count("files.features", layer.features), layer.m2 ? layer.area_text : null, layer.crs].filter(Boolean).join(" · ")),
      layer.fault ? make("p", { class: "refused" }, faultParts(asks(layer) ? { found: layer.fault.found, place: {} } : layer.fault)) : null,
      asked(one, layer),
      layer.attributes?.length ? make("details", { "data-key": `file ${one.file} ${layer.table ?? ""}` },
        make("summary", { "data-key": `file ${one.file} ${layer.table ?? ""} summary` }, count("files.columns", layer.attributes.length)),
        make("ul", {}, layer.attributes.map(column))) : null,
      layer.fault ? null : uses(one, layer))),
    one.raster ? make("div", {}, make("p", {}, say("files.raster")), make("pre", {}, one.raster.text),
      one.raster.fault ? [make("p", { class: "refused" }, faultParts(asks(one.raster) ? { found: one.raster.fault.found, place: {} } : one.raster.fault)), asked(one, one.raster)] : uses(one, null)) : null);
}

/** Whether an answer mends what is wrong with it. */
const asks = ({ fault, columns }) => Boolean(fault && (columns || fault.code === NO_CRS));

/** What a file does not say itself and somebody has to: where its points lie, what a comma is, its CRS. */
function asked(one, of) {
  const known = answers.get(one.file) ?? {};
  if (!asks(of)) return null;
  const id = `ask-${one.file}`.replaceAll(/[^\w-]/g, "_");
  const now = { ...known };
  const set = (key) => (event) => { now[key] = event.target.value.trim() === "" ? undefined : event.target.value.trim(); };
  const choice = (key, all) => [
    make("label", { for: `${id}-${key}` }, say(`files.${key}`)),
    make("select", { id: `${id}-${key}`, "data-key": `${id} ${key}`, onchange: set(key) }, make("option", { value: "" }, say("files.by_itself")),
      all.map(([value, words]) => make("option", { value, selected: String(known[key]) === value }, words))),
  ];
  return make("div", { class: "form" },
    of.columns ? [
      choice("x_column", of.columns.map((name) => [name, name])), choice("y_column", of.columns.map((name) => [name, name])),
      choice("decimal_comma", [["true", say("files.comma_decimal")], ["false", say("files.comma_thousands")]]),
    ] : null,
    make("label", { for: `${id}-crs` }, say("files.crs"), make("small", {}, say("files.crs_hint"))),
    make("input", { id: `${id}-crs`, type: "text", "data-key": `${id} crs`, value: known.crs ?? "", autocomplete: "off", spellcheck: "false", oninput: set("crs") }),
    make("button", { type: "button", "data-key": `${id} read`, onclick: () => readAgain(one, now) }, say("files.read")));
}

async function readAgain({ file }, now) {
  const said = Object.entries(now).filter(([, value]) => value !== undefined);
  const query = said.map(([key, value]) => `&${key}=${encodeURIComponent(value)}`).join("");
  try {
    const found = await get(`/describe?file=${encodeURIComponent(file)}${query}`);
    answers.set(file, Object.fromEntries(said.map(([key, value]) => [key, key === "decimal_comma" ? value === "true" : value])));
    described = described.map((one) => (one.file === file ? found : one));
    hideFault();
    aloud(say("files.taken", { file }));
  } catch (refused) {
    showFault(refused.fault ?? { found: say("page.lost"), place: {} });
  }
  again();
}

function column({ name, distinct, lowest, mean, highest, classes }) {
  const values = (classes ?? []).slice(0, 8).map(({ value }) => value).join(", ");
  const range = lowest === null || lowest === undefined ? null : say("files.range", { lowest: numeral(lowest), mean: numeral(mean), highest: numeral(highest) });
  return make("li", {}, make("b", {}, name), ": ", [say("files.distinct", { count: distinct }), values || range].filter(Boolean).join("; "));
}

/** Buttons that put a file to use in the open job: zones, left out, kept clear. */
function usesInJob(one, layer) {
  const source = sourceOf(one, layer);
  const points = layer && (layer.kinds ?? []).some(([kind]) => /point/i.test(kind));
  const attributes = points ? layer.values ?? [] : layer?.attributes ?? [];
  const id = `use-${one.file}-${layer?.table ?? ""}`.replaceAll(/[^\w-]/g, "_");
  const name = make("input", { type: "text", id: `${id}-name`, "data-key": `${id} name`, value: one.file.replace(/\.[^.]+$/, ""), autocomplete: "off" });
  const by = make("select", { id: `${id}-by`, "data-key": `${id} by` }, attributes.map((attribute) => make("option", { value: attribute.name, selected: attribute.name === layer.class_attribute }, attribute.name)));
  const add = (table, entry, words) => make("button", { type: "button", "data-key": `${id} ${table}`, onclick: () => perform({ do: "add", table, entry: entry() }, say("files.added", { name: name.value })) }, say(words));
  const products = (written(["product"]) ?? []).filter(({ kind }) => kind !== "seed").map((product) => product.id);
  const zones = () => (layer && !points
    ? { name: name.value, source, class_attribute: by.value }
    : { name: name.value, source, values: { method: "natural_breaks", classes: 3, class_names: say("files.class_names").split(" "), ...(points ? { column: by.value, surface: "inverse_distance" } : {}) } });
  return make("div", { class: "form" },
    make("label", { for: name.id }, say("files.name")), name,
    attributes.length ? [make("label", { for: by.id }, say(points ? "files.value_column" : "files.class_column")), by] : null,
    make("div", { class: "ways" },
      add("layer", zones, "files.use_zones"),
      layer ? add("exclusion", () => ({ name: name.value, source, buffer_m: points ? "?" : 0 }), "files.use_out") : null,
      layer ? add("setback", () => ({ name: name.value, source, distance_m: "?", products }), "files.use_clear") : null));
}
