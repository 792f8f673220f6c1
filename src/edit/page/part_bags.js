// Tags and bags: what is in each hopper, entered in the order in which a seed tag or a bag says it.

import { choices } from "./choices.js";
import { field } from "./field.js";
import { lots } from "./list_form.js";
import { make } from "./make.js";
import { mixtureCard } from "./mixture.js";
import { written } from "./state.js";
import { say, sayIfAny } from "./words.js";

export function bags() {
  const products = written(["product"]) ?? [];
  return [
    make("p", { class: "hint" }, say("bags.hint")),
    ...products.map((product, nth) => (product.kind === "fertiliser" ? bag(product, nth) : tag(product, nth))),
    products.length ? null : make("p", { class: "nothing" }, say("bags.none")),
    mixtureCard(),
    make("p", { class: "caution" }, say("bags.caution")),
  ];
}

const inJob = (nth, key) => written(["product", nth, key]) !== undefined;

/** A seed tag: the species above, then what the law prints on it, in its order. */
function tag(product, nth) {
  const at = (key, more = {}) => field({ path: ["product", nth, key], product: nth, ...more });
  const crops = (choices().crops ?? []).map(({ name }) => [name, name]);
  const weight = inJob(nth, "seeds_per_lb") ? "seeds_per_lb" : "thousand_grain_weight_g";
  const pack = inJob(nth, "seeds_per_pack") ? "seeds_per_pack" : "pack_kg";
  return make("section", { class: "tag", "aria-labelledby": `tag-${nth}` },
    make("div", { class: "hole", "aria-hidden": "true" }),
    head(product, nth, "bags.tag", `tag-${nth}`),
    make("div", { class: "tag-fields" },
      at("crop", crops.length ? { kind: "choice", choices: crops } : { kind: "text" }),
      at("name", { kind: "text" }),
      at("lot", { kind: "text" }),
      at(weight),
      at("germination_percent"),
      at("dressing", { kind: "text" }),
      at(pack),
      at("bulk_density_kg_per_l"),
      at("depth_mm"),
      hopper(nth)),
    lots(product, nth));
}

/** A bag of fertiliser: the grade large, as it is printed. */
function bag(product, nth) {
  const at = (key, more = {}) => field({ path: ["product", nth, key], product: nth, ...more });
  const grade = product.grade ?? {};
  const figure = product.grade ? ["n_percent", "p2o5_percent", "k2o_percent"].map((key) => grade[key] ?? 0).join(" – ") : say("bags.no_grade");
  return make("section", { class: "tag bag", "aria-labelledby": `tag-${nth}` },
    make("div", { class: "seam", "aria-hidden": "true" }),
    head(product, nth, "bags.bag", `tag-${nth}`),
    make("p", { class: "grade", "aria-label": say("bags.grade", { grade: figure }) }, figure, make("small", {}, say("bags.grade_is"))),
    make("div", { class: "tag-fields" },
      ["n_percent", "p2o5_percent", "k2o_percent"].map((key) => field({ path: ["product", nth, "grade", key], product: nth })),
      at("name", { kind: "text" }),
      at("form", { kind: "choice", choices: forms() }),
      at("lot", { kind: "text" }),
      at("pack_kg"),
      at("bulk_density_kg_per_l"),
      hopper(nth)));
}

const head = (product, nth, kind, id) => make("header", { class: "tag-head" },
  make("span", { class: "kind" }, say(kind)), make("h3", { id }, make("bdi", {}, product.name || say("bags.no_name"))));

function hopper(nth) {
  const hoppers = (written(["drill", "hopper"]) ?? []).map(({ name }) => [name, name]);
  return field({ path: ["product", nth, "hopper"], kind: hoppers.length ? "choice" : "text", choices: hoppers });
}

/** Forms of fertiliser by the names of the job file, in words where there are some. */
function forms() {
  return (choices().fields?.["product.form"]?.choices ?? []).map(([value]) => [value, sayIfAny(`forms.${value}`) ?? value.replaceAll("_", " ")]);
}
