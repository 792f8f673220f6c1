// To settle: what is not known yet and what asks for a person, each with the way to its place and to its field.

import { aloud, faultParts, sentence } from "./aloud.js";
import { keyOf, perform } from "./field.js";
import { make } from "./make.js";
import { chooseRows, goTo } from "./maps.js";
import { nameOf } from "./names.js";
import { goToField, goToPart } from "./parts.js";
import { ofTwo, openInOther } from "./seedbeds.js";
import { state } from "./state.js";
import { count, say } from "./words.js";

export function settle({ plan, open_settings: settings, fault }) {
  const decisions = plan?.decisions ?? [];
  const open = decisions.filter((decision) => decision.open);
  const signed = decisions.filter((decision) => !decision.open);
  const findings = plan?.findings ?? [];
  const warnings = findings.filter((finding) => finding.severity === "warning");
  const notes = findings.filter((finding) => finding.severity === "note");
  return [
    ofTwo(plan, "settle"),
    settings.length || open.length || fault || openInOther(plan) ? make("p", { class: "hint" }, say("settle.hint")) : make("p", { class: "good" }, say("settle.nothing")),
    fault && !settings.length ? make("section", { class: "matter" }, make("h3", {}, say("settle.fault")), make("p", {}, faultParts(fault)), toField(fault.path)) : null,
    settings.length ? make("section", { "aria-labelledby": "questions-title" },
      make("h3", { id: "questions-title" }, count("settle.questions", settings.length)),
      make("ul", { class: "matters" }, settings.map(question))) : null,
    open.length ? make("section", { "aria-labelledby": "decisions-title" },
      make("h3", { id: "decisions-title" }, count("settle.decisions", open.length)), open.map(decisionCard)) : null,
    signed.length ? make("section", {}, make("h3", {}, say("settle.signed")), signed.map(signedCard)) : null,
    warnings.length ? make("section", {}, make("h3", {}, say("settle.warnings")), byKind(warnings)) : null,
    notes.length ? make("details", { "data-key": "settle notes" }, make("summary", { "data-key": "settle notes summary" }, count("settle.notes", notes.length)),
      byKind(notes)) : null,
  ];
}

const question = (setting) => make("li", {},
  make("b", {}, nameOf(setting.path)), make("span", {}, ` ${say("settle.paper", { paper: setting.paper })} `), toField(setting.path));

function toField(path) {
  if (!path) return null;
  return make("button", { type: "button", class: "link", "data-key": `to ${keyOf(path)}`, onclick: () => goToField(path) }, say("settle.to_field"));
}

function toPlace({ at, rows, key, code, message }) {
  if (!at && !rows?.length) return null;
  return make("button", {
    type: "button", class: "link", "data-key": `place ${key ?? code}${at ?? ""}${message.length}`, onclick: () => {
      goToPart("maps", { stay: true });
      if (at) goTo(at);
      else chooseRows(rows.map((row) => row - 1));
      aloud(say("settle.on_map"));
    },
  }, say("settle.to_place"));
}

function decisionCard(decision) {
  return make("article", { class: "matter" },
    make("p", { class: "words" }, sentence(decision.message)),
    make("p", { class: "soft" }, concerns(decision)),
    make("div", { class: "ways" }, toPlace(decision), toField(decision.path)),
    decision.signable ? signing(decision) : make("p", { class: "soft" }, say("settle.no_signature")));
}

function concerns({ field, products, about, of_spreader: ofSpreader }) {
  const what = ofSpreader ? say("settle.of_spreader") : field ? say("settle.whole_field") : say("settle.products", { products: products.join(", ") });
  return about ? say("settle.about", { what, about }) : what;
}

const today = () => {
  const now = new Date();
  return [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((part) => String(part).padStart(2, "0")).join("-");
};

function signing(decision) {
  const key = `sign ${decision.key}`;
  const id = key.replaceAll(/[^\w]/g, "-");
  const input = (name, value = "") => make("input", { id: `${id}-${name}`, type: "text", "data-key": `${key} ${name}`, value, autocomplete: name === "by" ? "name" : "off", required: true, oninput: (event) => { event.target.dataset.typed = ""; } });
  const by = input("by");
  const why = input("why");
  const on = input("on", today());
  const sign = async () => {
    const missing = [by, why, on].find((one) => !one.value.trim());
    if (missing) {
      missing.focus();
      aloud(say("settle.sign_missing"));
      return;
    }
    await perform({ do: "sign", decision: decision.key, by: by.value.trim(), why: why.value.trim(), on: on.value.trim(), seedbed: state().plan?.seedbeds?.seen }, say("settle.signed_now"));
  };
  return make("details", { class: "sign", "data-key": key },
    make("summary", { "data-key": `${key} summary` }, say("settle.sign")),
    make("div", { class: "form" },
      make("p", { class: "soft" }, say("settle.sign_hint")),
      make("label", { for: by.id }, say("settle.by")), by,
      make("label", { for: why.id }, say("settle.why")), why,
      make("label", { for: on.id }, say("settle.day")), on,
      make("button", { type: "button", class: "main", "data-key": `${key} done`, onclick: sign }, say("settle.sign_now"))));
}

function signedCard({ message, signed, signed_on: on, signature_nth: nth, key }) {
  return make("article", { class: "matter signed" },
    make("p", { class: "words" }, sentence(message)),
    make("p", {}, say("settle.signed_by", { by: signed.by, on }), make("q", {}, signed.why)),
    nth === null ? null : make("button", { type: "button", "data-key": `back ${key}`, onclick: () => perform({ do: "take_back", nth }, say("settle.taken_back")) }, say("settle.take_back")));
}

const findingLine = (finding, more = null) => make("li", {}, sentence(finding.message), " ", toPlace(finding), " ", toField(finding.path), more);

/** The first finding of each kind; the others of it behind a line. */
function byKind(findings) {
  const kinds = [...new Set(findings.map((finding) => finding.code))].map((code) => findings.filter((finding) => finding.code === code));
  return make("ul", { class: "matters" }, kinds.map(([first, ...more]) => findingLine(first, more.length
    ? make("details", { "data-key": `more ${first.code}` }, make("summary", { "data-key": `more ${first.code} summary` }, count("settle.more", more.length)),
      make("ul", { class: "matters" }, more.map((finding) => findingLine(finding))))
    : null)));
}
