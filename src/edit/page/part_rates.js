// Rates: every number that decides one, as a table by class and land part. A changed number is on both maps at once.

import { aloud } from "./aloud.js";
import { besideSeed } from "./beside_seed.js";
import { fieldParts, numberOf, perform } from "./field.js";
import { swatch } from "./hatch.js";
import { make } from "./make.js";
import { chooseRows } from "./maps.js";
import { ofTwo } from "./seedbeds.js";
import { written } from "./state.js";
import { say, sayIfAny } from "./words.js";

export function rates({ plan }) {
  if (!plan) return [make("p", { class: "nothing" }, say("rates.nothing")), ...besideSeed()];
  return [
    make("p", { class: "hint" }, say("rates.hint")),
    ofTwo(plan, "rates"),
    ...plan.products.map((product) => make("section", { class: `card of${product.nth}` },
      make("h3", {}, make("bdi", {}, product.name), make("small", {}, ` ${say("sums.hopper", { hopper: product.hopper })}`)),
      heldBy(product),
      ...groups(plan.levers.filter((lever) => lever.product === product.id), product, plan),
      headland(plan, product))),
    ...besideSeed(),
  ];
}

/** What holds a rate down, each with the land it does so on. */
function heldBy(product) {
  const all = product.held_by ?? [];
  if (!all.length) return null;
  return make("ul", { class: "held-list" }, all.map((by) => make("li", {}, swatch("#ffffff", "held"),
    make("button", { type: "button", class: "link", "data-key": `held ${product.id} ${by.rule}`, onclick: () => chooseRows(by.rows.map((row) => row - 1)) },
      [by.rule_text, by.area_text, by.mass_text ? say("rates.less", { mass: by.mass_text }) : null].filter(Boolean).join(", ")))));
}

function groups(levers, product, plan) {
  const by = new Map();
  for (const lever of levers) {
    const name = lever.group === "limits" ? "limits" : `${lever.group} ${lever.label} ${lever.layer ?? ""} ${lever.because ?? ""}`;
    by.set(name, [...(by.get(name) ?? []), lever]);
  }
  return [...by.values()].map((group) => ruleTable(group, product, plan));
}

function ruleTable(group, product, plan) {
  const [first] = group;
  const limits = first.group === "limits";
  const special = first.group === "special_area";
  const title = limits ? say("rates.limits") : special ? say("levers.special_area") : ruleName(first);
  const unit = special ? "%" : sayIfAny(`units.${first.label}`) ?? first.unit;
  const area = (lever) => {
    const nth = plan.layers.indexOf(lever.layer);
    return nth < 0 || lever.class === null ? null : plan.rows.flatMap((row, at) => (row.classes[nth] === lever.class ? [at] : []));
  };
  const lines = group.map((lever, nth) => {
    const rows = area(lever);
    const where = limits ? say(`fields.${lever.label}`) : whereOf(lever);
    const { label, input, notes, open } = fieldParts({ path: lever.path, product: product.nth, label: `${title}, ${where}`, unit: unit ?? "", usualKey: lever.label, usual: nth < group.length - 1 ? [] : undefined });
    label.classList.add("quiet");
    return [
      make("tr", { class: open ? "open" : null },
        make("th", { scope: "row" }, rows?.length
          ? make("button", { type: "button", class: "link", "data-key": `lever ${lever.path.join(" ")}`, title: say("rates.show"), onclick: () => chooseRows(rows, { move: false }) }, where)
          : where),
        make("td", {}, label, input)),
      notes ? make("tr", {}, make("td", { colspan: "2" }, notes)) : null,
    ];
  });
  const table = make("table", { class: "rules" },
    make("caption", {}, title),
    make("thead", {}, make("tr", {}, make("th", { scope: "col" }, say("rates.where")), make("th", { scope: "col", class: "number" }, unit || say("rates.number")))),
    make("tbody", {}, lines));
  return [table, group.length === 1 && ["rate", "adjust"].includes(first.group) && first.class === null ? byClass(first, title, plan) : null];
}

/** A number that is the same everywhere, made one for each class of a layer: all begin as it is. */
function byClass({ path, value, layer }, title, plan) {
  if (layer !== null || typeof path.at(-1) !== "string" || !plan.layers.length) return null;
  const apart = (name, nth) => {
    const classes = [...new Set(plan.rows.map((row) => row.classes[nth]))].sort();
    return perform({ do: "set", path, value: { layer: name, by_class: Object.fromEntries(classes.map((one) => [one, value])) } }, say("rates.apart", { layer: name }));
  };
  return make("div", { class: "ways by-class" }, plan.layers.map((name, nth) => make("button", {
    type: "button", class: "link", "data-key": `by class ${path.join(" ")} ${name}`, "aria-label": say("rates.by_class_of", { title, layer: name }), onclick: () => apart(name, nth),
  }, say("rates.by_class", { layer: name }))));
}

function ruleName(lever) {
  const name = sayIfAny(`levers.${lever.group}_${lever.label}`) ?? sayIfAny(`fields.${lever.label}`) ?? lever.label;
  const because = lever.because ?? (lever.group === "adjust" ? written([...lever.path.slice(0, 4), "because"]) : null);
  return because ? `${name}: ${because}` : name;
}

function whereOf({ layer, class: name, part }) {
  const where = [name === null ? null : layer ? say("rates.class", { layer, class: name }) : name, part ? say(`land_part.${part}`) : null].filter(Boolean);
  return where.length ? where.join(", ") : say("rates.everywhere");
}

/** A rule for the headland, where there is none yet. */
function headland(plan, product) {
  const has = plan.levers.some((lever) => lever.product === product.id && lever.part === "headland");
  if (has || !plan.rows.some((row) => row.part === "headland")) return null;
  const id = `headland-${product.nth}`;
  const number = make("input", { id: `${id}-percent`, type: "text", inputmode: "decimal", class: "number", value: "105", "data-key": `${id} percent`, autocomplete: "off" });
  const why = make("input", { id: `${id}-why`, type: "text", "data-key": `${id} why`, autocomplete: "off", required: true });
  return make("details", { "data-key": id },
    make("summary", { "data-key": `${id} summary` }, say("rates.add_headland")),
    make("div", { class: "form" },
      make("label", { for: number.id }, say("rates.headland_percent")), number,
      make("label", { for: why.id }, say("rates.because")), why,
      make("button", {
        type: "button", "data-key": `${id} add`, onclick: async () => {
          if (!why.value.trim()) {
            why.focus();
            aloud(say("rates.because_missing"));
            return;
          }
          await perform({ do: "part", product: product.id, part: "headland", percent: numberOf(number.value), because: why.value.trim() }, say("rates.added"));
        },
      }, say("rates.add"))));
}
