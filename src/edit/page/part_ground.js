// Ground: the field, its zone layers with their classes, files that are added, and the other fields of the folder.

import { beginDrawing, endDrawing } from "./drawing.js";
import { choices } from "./choices.js";
import { drawButton } from "./drawing_panel.js";
import { fieldsOfFolder, splitCard } from "./farm.js";
import { field, perform } from "./field.js";
import { drop } from "./files.js";
import { make } from "./make.js";
import { chooseRows } from "./maps.js";
import { written } from "./state.js";
import { say } from "./words.js";
import { zonesByHand } from "./zones.js";

export function ground({ plan, ground: land, job }) {
  const layers = written(["layer"]) ?? [];
  return [
    splitCard(),
    make("section", { class: "card" },
      make("h3", {}, say("ground.field")),
      field({ path: ["field", "name"], kind: "text" }),
      field({ path: ["field", "farm"], kind: "text" }),
      field({ path: ["report", "language"], kind: "choice", choices: choices().fields["report.language"]?.choices }),
      plan ?? land ? make("p", { class: "soft" }, say(plan ? "ground.area" : "ground.land", { area: (plan ?? land).area_text })) : null,
      make("p", { class: "soft" }, say("ground.boundary", { file: written(["field", "boundary", "file"]) ?? "–" })),
      plan ? entrance(plan) : null),
    ...layers.map((layer, nth) => layerCard(layer, nth, plan, land)),
    make("section", { class: "card" }, make("h3", {}, say("ground.add")), drop()),
    fieldsOfFolder(),
    make("p", { class: "soft" }, say("ground.job_file", { file: job.file })),
  ];
}

/** Where the drill enters: pointed at on the map. */
function entrance(plan) {
  const point = () => beginDrawing("entrance", "place", {
    then: async (at) => {
      await perform({ do: "draw", drawing: { what: "entrance", at } }, say("ground.entrance_set"));
      endDrawing();
    },
  });
  return make("div", { class: "ways" }, make("span", { class: "soft" }, say(plan.entrance ? "ground.entrance" : "ground.no_entrance")), drawButton("entrance", point));
}

function layerCard(layer, nth, plan, land) {
  const known = land?.maps.find((map) => map.name === layer.name && map.nth !== undefined);
  const at = plan?.layers.indexOf(layer.name) ?? -1;
  const classes = known ? known.bars.map((bar) => bar.text) : at < 0 ? [] : [...new Set(plan.rows.map((row) => row.classes[at]))].sort();
  const rowsOf = (name) => (known
    ? known.bars.find((bar) => bar.text === name).rows.map((row) => row - 1)
    : plan.rows.flatMap((row, row_nth) => (row.classes[at] === name ? [row_nth] : [])));
  return make("section", { class: "card" },
    make("h3", {}, say("ground.layer", { name: layer.name })),
    make("p", { class: "soft" }, say("ground.from", { file: layer.source?.file ?? say("ground.line"), column: layer.class_attribute ?? layer.values?.column ?? "–" })),
    classes.length ? make("ul", { class: "chips", "aria-label": say("ground.classes", { name: layer.name }) }, classes.map((name) => make("li", {},
      make("button", { type: "button", "data-key": `class ${layer.name} ${name}`, onclick: () => chooseRows(rowsOf(name)) }, name)))) : null,
    make("div", { class: "ways" }, plan ? zonesByHand(layer) : null,
      make("button", { type: "button", "data-key": `remove layer ${nth}`, onclick: () => perform({ do: "remove", table: "layer", nth }, say("ground.removed", { name: layer.name })) }, say("ground.remove"))));
}
