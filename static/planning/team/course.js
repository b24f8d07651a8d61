// Drawing a course: the draft lives here and survives a reload; the server draws the map and checks every change.

import "../../site/tablet.js";
import { inOwnDigits, recall, remember, say } from "../../site/recall.js";
import { History, add, move, set, setStart, takeOut } from "./draft.js";
import { follow } from "../preparing/preparing.js";

const root = document.getElementById("course");
const { unit, tier, team } = root.dataset;
const mm = Number(root.dataset.mm);
const stepMm = Number(root.dataset.step);
const turnDeg = Number(root.dataset.turn);
const waitS = Number(root.dataset.wait);
const fixedStart = root.dataset.fixed === "yes";
const key = `helmroom-draft-${team}-${tier}`;
const $ = (id) => document.getElementById(id);
const keepForm = $("keep");

let base = Number(root.dataset.base);
let at = -1;
let history = begin();
let asking = null;
let asked = false;

// A draft left on this tablet goes on. One that the page was opened with comes after it, so that undo brings back the old.
// One that was sent may be kept or lost on the way: it goes on until a newer plan is there.
function begin() {
  const served = JSON.parse(root.dataset.draft);
  const kept = recall(key);
  if (!kept?.draft) return new History(served);
  const fresh = root.dataset.fresh === "yes" || (kept.sent && base > kept.base);
  if (fixedStart) kept.draft.start = served.start;
  const first = new History(fresh ? kept.draft : served);
  first.go(fresh ? served : kept.draft);
  if (!fresh) base = kept.base;
  return first;
}

const round = (value, digits = 2) => inOwnDigits(Math.round(value * 10 ** digits) / 10 ** digits);
const isTurn = (step) => step.do === "turn";
const hasAmount = (step) => !["lower", "raise"].includes(step.do);

function size(step, n = step.n) {
  if (isTurn(step)) return `${round(Math.abs(n) * turnDeg)}°`;
  if (step.do === "wait") return `${round(n * waitS)} s`;
  return `${round((Math.abs(n) * stepMm) / mm)} ${unit}`;
}

function words(step) {
  if (isTurn(step)) return step.n >= 0 ? say("Turn left") : say("Turn right");
  if (step.do === "drive") return step.n >= 0 ? say("Drive") : say("Back up");
  return { push: say("Push"), wait: say("Wait"), lower: say("Lower the tool"), raise: say("Raise the tool") }[step.do];
}

function change(draft, select = at) {
  history.go(draft);
  at = Math.max(fixedStart ? 0 : -1, Math.min(select, draft.steps.length - 1));
  draw();
}

// What the page shows of the draft at once, before the server has answered.
function draw() {
  const draft = history.now;
  if (at >= draft.steps.length) at = draft.steps.length - 1;
  if (at < 0 && fixedStart && draft.steps.length) at = 0;
  const rows = draft.steps.map((step, i) => row(i, `${i + 1}`, words(step), hasAmount(step) ? size(step) : ""));
  if (!fixedStart) rows.unshift(row(-1, "S", say("Start"), `${round(draft.start.x_mm / mm)}, ${round(draft.start.y_mm / mm)} ${unit}`));
  const focused = document.activeElement?.name === "at";
  $("steps").replaceChildren(...rows);
  if (!rows.length) $("steps").append(Object.assign(document.createElement("p"), { className: "soft empty-steps", textContent: say("No steps yet. Add the first one below.") }));
  showChosen();
  if (focused) $("steps").querySelector("input:checked")?.focus();
  drawEditor(draft);
  $("anew").disabled = !draft.steps.length;
  $("undo").disabled = !history.past.length;
  $("redo").disabled = !history.next.length;
  keepForm.elements.draft.value = JSON.stringify(draft);
  keepForm.elements.base.value = String(base);
  keepForm.querySelector("button").disabled = !draft.steps.length;
  remember(key, { draft, base });
  ask();
}

// Scrolls the list and only the list: the page must not move under a finger.
function showChosen() {
  const list = $("steps");
  const chosen = list.querySelector("input:checked")?.parentElement;
  if (!chosen) return;
  const top = chosen.offsetTop - list.offsetTop;
  if (top < list.scrollTop) list.scrollTop = top - 4;
  else if (top + chosen.offsetHeight > list.scrollTop + list.clientHeight) list.scrollTop = top + chosen.offsetHeight - list.clientHeight + 4;
}

function row(i, number, what, amount) {
  const label = document.createElement("label");
  label.className = "step-row";
  const radio = Object.assign(document.createElement("input"), { type: "radio", name: "at", value: String(i), checked: i === at });
  const parts = [["b", number], ["span", what], ["b", amount]].map(([tag, text]) => Object.assign(document.createElement(tag), { textContent: text }));
  const face = Object.assign(document.createElement("span"), { className: "step-face" });
  face.append(...parts);
  label.append(radio, face);
  radio.addEventListener("change", () => { at = i; drawEditor(history.now); });
  return label;
}

function drawEditor(draft) {
  const step = draft.steps[at];
  const start = at === -1 && !fixedStart;
  $("editor").hidden = !step && !start;
  if (start) return drawStart();
  if (!step) return undefined;
  $("editor-title").textContent = say("Step {number}: {what}", { number: at + 1, what: words(step) });
  const many = hasAmount(step);
  document.querySelector(".stepper").hidden = !many;
  $("amount").value = many ? size(step) : "";
  const big = bigOf(step);
  labelSteppers(size(step, big), size(step, 1));
  $("flip").hidden = !["turn", "drive"].includes(step.do);
  if (isTurn(step)) $("flip").textContent = step.n >= 0 ? say("Turn right instead") : say("Turn left instead");
  else $("flip").textContent = step.n >= 0 ? say("Back up instead") : say("Drive forward instead");
  for (const id of ["earlier", "later", "take-out"]) $(id).hidden = false;
  $("earlier").disabled = at === 0;
  $("later").disabled = at === draft.steps.length - 1;
  return undefined;
}

function labelSteppers(big, one) {
  for (const button of document.querySelectorAll("[data-by]")) {
    const by = button.dataset.by;
    button.textContent = `${by.startsWith("-") ? "−" : "+"}${by.endsWith("big") ? big : one}`;
  }
}

let startField = "x_mm";
const START = {
  x_mm: [say("Start: from the left edge"), say("Now from the left edge")],
  y_mm: [say("Start: from the near edge"), say("Now from the near edge")],
  heading_deg: [say("Start: facing"), say("Now facing")],
};

function drawStart() {
  const value = history.now.start[startField];
  const angle = startField === "heading_deg";
  $("editor-title").textContent = START[startField][0];
  document.querySelector(".stepper").hidden = false;
  $("amount").value = angle ? `${round(value)}°` : `${round(value / mm)} ${unit}`;
  labelSteppers(angle ? "15°" : `${round((10 * stepMm) / mm)} ${unit}`, angle ? "1°" : `${round(stepMm / mm)} ${unit}`);
  $("flip").hidden = false;
  const order = Object.keys(START);
  $("flip").textContent = START[order[(order.indexOf(startField) + 1) % 3]][1];
  for (const id of ["earlier", "later", "take-out"]) $(id).hidden = true;
}

function bigOf(step) {
  if (isTurn(step)) return Math.max(3, Math.round(10 / turnDeg));
  return step.do === "wait" ? 4 : 10;
}

function onStep(by) {
  const draft = history.now;
  if (at === -1) {
    const one = startField === "heading_deg" ? 1 : stepMm;
    const times = by.endsWith("big") ? (startField === "heading_deg" ? 15 : 10) : 1;
    return change(setStart(draft, { [startField]: draft.start[startField] + (by.startsWith("-") ? -1 : 1) * one * times }));
  }
  const step = draft.steps[at];
  const grow = (by.startsWith("-") ? -1 : 1) * (by.endsWith("big") ? bigOf(step) : 1);
  const sign = step.n < 0 ? -1 : 1;
  // More is always more of what it does: a longer way back, a wider turn to the right; and less stops at nothing.
  return change(set(draft, at, sign * Math.max(sign < 0 ? 1 : 0, Math.abs(step.n) + grow)));
}

function onTyped() {
  const value = Number.parseFloat($("amount").value.replace(",", "."));
  const draft = history.now;
  if (!Number.isFinite(value)) return drawEditor(draft);
  if (at === -1) return change(setStart(draft, { [startField]: startField === "heading_deg" ? value : value * mm }));
  const step = draft.steps[at];
  const each = isTurn(step) ? turnDeg : step.do === "wait" ? waitS : stepMm / mm;
  const sign = value < 0 || step.n < 0 ? -1 : 1;
  return change(set(draft, at, sign * Math.round(Math.abs(value) / each)));
}

for (const button of document.querySelectorAll("[data-by]")) button.addEventListener("click", () => onStep(button.dataset.by));
for (const button of document.querySelectorAll("[data-add]")) {
  button.addEventListener("click", () => change(add(history.now, Math.max(at, history.now.steps.length ? at : -1), button.dataset.add, turnDeg), at + 1));
}
$("amount").addEventListener("change", onTyped);
$("flip").addEventListener("click", () => {
  if (at === -1) {
    const order = Object.keys(START);
    startField = order[(order.indexOf(startField) + 1) % 3];
    return drawStart();
  }
  return change(set(history.now, at, -history.now.steps[at].n || (isTurn(history.now.steps[at]) ? -1 : 0)));
});
$("earlier").addEventListener("click", () => change(move(history.now, at, -1), at - 1));
$("later").addEventListener("click", () => change(move(history.now, at, 1), at + 1));
$("take-out").addEventListener("click", () => change(takeOut(history.now, at)));
$("anew").addEventListener("click", () => { change({ ...history.now, steps: [] }); $("undo").focus(); });
$("undo").addEventListener("click", () => { history.undo(); draw(); });
$("redo").addEventListener("click", () => { history.redo(); draw(); });
document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.target === $("amount")) return;
  const way = { z: event.shiftKey ? "redo" : "undo", y: "redo" }[event.key.toLowerCase()];
  if (way) { event.preventDefault(); history[way](); draw(); }
});
keepForm.addEventListener("submit", () => { remember(key, { draft: history.now, base, sent: true }); });

// The latest draft is asked about; an answer to an older one is thrown away.
async function ask() {
  asked = true;
  if (asking) return;
  while (asked) {
    asked = false;
    asking = new AbortController();
    const data = new FormData(keepForm);
    data.set("do", "check");
    try {
      const response = await fetch(location.pathname, { method: "POST", body: data, headers: { "X-Part": "yes" }, redirect: "manual", signal: asking.signal });
      if (response.type === "opaqueredirect" || response.status >= 500) throw new Error("no answer");
      if (response.status === 403) lost(OLD);
      else {
        if (!asked) show(new DOMParser().parseFromString(await response.text(), "text/html"));
        delete root.dataset.lost;
      }
    } catch {
      lost(AWAY);
      asked = false;
    }
    asking = null;
  }
}

const hints = () => [...$("says").querySelectorAll("[data-hint]")];
// What follows a colon is the step with its number, which the next tap changes.
const told = (hint) => hint.querySelector("p").textContent.split(":")[0];

// A hint that says what it said before stays open under the next tap; one that says something else is asked for anew.
function show(page) {
  const open = hints().filter((hint) => hint.open).map(told);
  for (const part of page.querySelectorAll("[data-into]")) $(part.dataset.into).replaceChildren(...part.childNodes);
  for (const hint of hints()) hint.open = open.includes(told(hint));
  root.dataset.seen = String(Number(root.dataset.seen || 0) + 1);
  follow(ask); // the planner may not be ready to check: asked again when it is
}

const AWAY = say("No network: the map shows an earlier draft. Your drawing is kept on this tablet and checked as soon as the network is back.");
const OLD = say("Load the page again: it has been open too long to be answered, and the map shows an earlier draft. Your drawing is kept on this tablet.");

function lost(words) {
  root.dataset.lost = "yes";
  const notice = Object.assign(document.createElement("p"), { className: "notice warning", textContent: words });
  notice.dataset.lost = "yes";
  $("says").querySelector("[data-lost]")?.remove();
  $("says").prepend(notice);
  const state = $("map").querySelector(".map-state");
  const chip = Object.assign(document.createElement("span"), { className: "chip help", textContent: `● ${say("An earlier draft")}` });
  state?.replaceChildren(chip, ` ${words.split(":")[0]}`);
}
addEventListener("online", ask);

$("edit").hidden = false;
if (history.now.steps.length) at = history.now.steps.length - 1;
draw();
