// The place that was pointed at: both rates, and every reason with its source.

import { aloud } from "./aloud.js";
import { find, make } from "./make.js";
import { seenName } from "./seedbeds.js";
import { state } from "./state.js";
import { say } from "./words.js";

let onClose = () => {};
export function whenHereCloses(then) {
  onClose = then;
}

export function showHere(told) {
  const box = find("#here");
  const classes = told.classes.map(({ layer, class: name }) => say("here.class", { layer, class: name }));
  const where = [say(`land_part.${told.part}`), ...classes, ...told.special_areas, ...told.setbacks.map((name) => say("here.clear", { name }))];
  const close = make("button", { type: "button", class: "close", "aria-label": say("here.close"), onclick: () => onClose() }, "×");
  const place = told.lon_lat ? say("here.at", { lat: told.lon_lat[1].toFixed(6), lon: told.lon_lat[0].toFixed(6) }) : null;
  box.setAttribute("aria-label", say("here.name"));
  box.replaceChildren(...[
    make("div", { class: "here-head" }, make("h3", {}, [...where, seenName(state().plan)].filter(Boolean).join(" · ")), close),
    make("p", { class: "soft" }, [say("here.land", { area: told.area_text }), place].filter(Boolean).join(" · ")),
    told.plot ? plotHere(told.plot) : null,
    make("div", { class: "reasons" }, told.products.map((product) => reasonsOf(product)), (told.spread ?? []).map((product) => reasonsOf(product, say("here.spread"))))].filter(Boolean));
  box.hidden = false;
  box.scrollTop = 0;
  find("#work").scrollTop = 0;
  const rates = [...told.products, ...(told.spread ?? [])].map((product) => say("here.aloud", { name: product.name, rate: product.text }));
  aloud([...rates, told.plot ? plotWords(told.plot) : null].filter(Boolean).join(" "));
}

const plotWords = ({ trial, id, treatment, block }) => say("here.plot", { trial, id, treatment, block });

/** The plot of a trial: what is tried, and each rate of it as asked for, in the map, and as driven. */
function plotHere(plot) {
  return make("section", { class: "reason" },
    make("h4", {}, plotWords(plot)),
    make("ul", {}, plot.rates.map(({ name, asked_text: asked, map_text: map, sown_text: sown }) => make("li", {}, say("here.plot_rate", { name, asked, map, sown })))));
}

function reasonsOf(product, by = null) {
  const steps = product.reasons.map((reason) => make("li", {},
    make("span", {}, make("b", {}, reason.rule_text), reason.text && reason.text !== reason.rule_text ? `: ${reason.text}` : ""),
    make("b", { class: "number" }, reason.rate_text),
    reason.source ? make("small", {}, say("here.source", { source: reason.source })) : null));
  return make("section", { class: "reason" },
    make("h4", {}, make("span", {}, make("bdi", {}, product.name), by ? make("small", {}, ` ${by}`) : null), make("span", { class: "big" }, product.text)),
    product.held ? make("p", { class: "warn" }, say("here.held")) : null,
    make("ol", {}, steps),
    product.balance_text ? make("p", { class: "soft" }, say("here.balance", { rate: product.balance_text })) : null);
}

export function hideHere() {
  find("#here").hidden = true;
}
