// To the drill: the plan with its files, what is held back and why, and the copy to a drive for the terminal.

import { aloud, hideFault, showFault } from "./aloud.js";
import { get, post } from "./engine.js";
import { make } from "./make.js";
import { ofTwo } from "./seedbeds.js";
import { state } from "./state.js";
import { openMatters } from "./top.js";
import { count, say } from "./words.js";

const REPORT = "report.html";
let written = null; // the last answer of the handover, and the beat of the job it was made from
let drives = null;
let copied = null;
let busy = false;
let again = () => {};

/** Called when an answer has come, so that the part is shown again. */
export function whenHandedOver(then) {
  again = then;
}

export function handover(now) {
  const open = openMatters(now);
  return [
    ofTwo(now.plan, "handover"),
    open
      ? make("div", { class: "matter" }, make("p", { class: "words" }, count("handover.held_back", open)), make("p", {}, make("a", { href: "#settle" }, say("handover.to_settle"))))
      : make("p", { class: "good" }, say("handover.ready")),
    make("section", { class: "step" },
      make("h3", {}, say("handover.write_title")),
      make("p", { class: "soft" }, say("handover.write_hint")),
      make("button", { type: "button", class: "main", "data-key": "handover write", "aria-disabled": busy || !now.plan ? "true" : null, onclick: () => write(state()) }, say(busy ? "handover.writing" : "handover.write")),
      written ? files(now) : null),
    make("section", { class: "step" },
      make("h3", {}, say("handover.drive_title")),
      make("p", { class: "soft" }, say("handover.drive_hint")),
      make("button", { type: "button", "data-key": "handover look", onclick: look }, say("handover.look")),
      drives ? driveList() : null,
      copied ? make("div", { class: "good" }, make("p", {}, say("handover.copied", { to: copied.to })), make("ul", {}, copied.copied.map((file) => make("li", {}, make("code", {}, file))))) : null),
    make("section", { class: "step" }, make("h3", {}, say("handover.gate_title")), make("ul", {}, ["calibrate", "screen", "label"].map((key) => make("li", {}, say(`handover.gate_${key}`))))),
  ];
}

async function run(does) {
  try {
    await does();
    hideFault();
  } catch (refused) {
    showFault(refused.fault ?? { found: say("page.lost"), place: {} });
  }
}

async function write(now) {
  if (busy || !now.plan) return;
  busy = true;
  again();
  await run(async () => {
    written = { ...(await post("/handover")), beat: now.beat };
    aloud(say(written.ready ? "handover.written_ready" : "handover.written_open", { folder: written.folder }));
  });
  busy = false;
  again();
}

function files(now) {
  const handed = (path) => `/handed/${path.split("/").map(encodeURIComponent).join("/")}`;
  const reports = written.files.map(({ path }) => path).filter((path) => path === REPORT || path.endsWith(`/${REPORT}`));
  const stale = now.history.done.length !== undefined && now.beat !== written.beat && !now.plan?.current;
  return make("div", {},
    make("p", {}, say(written.ready ? "handover.written_ready" : "handover.written_open", { folder: written.folder })),
    stale ? make("p", { class: "warn" }, say("handover.stale")) : null,
    reports.map((path) => make("p", {}, make("a", { href: handed(path), target: "_blank", rel: "noopener", "data-key": path === REPORT ? "handed report" : `handed ${path}` },
      say("handover.report"), path === REPORT ? null : ` (${path.slice(0, -REPORT.length - 1)})`))),
    make("details", { "data-key": "handover files" },
      make("summary", { "data-key": "handover files summary" }, count("handover.files", written.files.length)),
      make("ul", { class: "files" }, written.files.map(({ path, what }) => make("li", {}, make("code", {}, path), what ? ` ${what}` : "")))));
}

async function look() {
  await run(async () => {
    ({ drives } = await get("/drives"));
    aloud(drives.length ? count("handover.drives", drives.length) : say("handover.no_drive"));
  });
  again();
}

function driveList() {
  if (!drives.length) return make("p", { class: "warn" }, say("handover.no_drive"));
  return make("ul", { class: "drives" }, drives.map(({ path, name }) => make("li", {},
    make("button", { type: "button", class: "main", "data-key": `drive ${path}`, onclick: () => copy(path) }, say("handover.copy", { name })),
    make("span", { class: "soft" }, ` ${path}`))));
}

async function copy(drive) {
  await run(async () => {
    copied = await post("/stick", { drive });
    aloud(say("handover.copied", { to: copied.to }));
  });
  again();
}
