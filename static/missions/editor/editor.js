// The mission editor. Without this script the form does everything; with it, the map does too.

import { say as inPageLanguage } from "../../site/recall.js";
import { Chart } from "./chart.js";
import { Form } from "./form.js";
import { Moves } from "./moves.js";
import { writeLength } from "./units.js";
import { Ladder } from "./ladder.js";
import { History, State } from "./state.js";
import { listenToKeys, listenToPointer } from "./hands.js";
import { sayBelow, unsay } from "./wrong.js";

const $ = (id) => document.getElementById(id);
const form = new Form($("editor"));
const map = $("map");
const chart = new Chart(map, form);
const moves = new Moves(form, chart, () => ({ grid: Number($("snap").value), edges: $("snap-edges").checked }));
const now = () => ({ drawing: form.snapshot(), whole: form.whole() });
const history = new History(now());
const ladder = new Ladder(form);
const state = new State();
const chosen = { shape: "base", corner: null };
let wrong = new Set();

function redraw() { chart.draw(chosen, wrong); }

function tell(words) { $("map-says").textContent = words; }

/** Select a shape or pose, maybe one of its corners. */
function choose(shape, corner = null, { quiet = false } = {}) {
  if (!moves.isPose(shape) && !form.holder(shape)) [shape, corner] = ["base", null];
  Object.assign(chosen, { shape, corner });
  fillPick();
  for (const el of document.querySelectorAll("details.shape")) {
    el.classList.toggle("chosen", (el.dataset.shape || el.dataset.group) === shape);
  }
  redraw();
  if (!quiet) tell(moves.say(chosen));
}

function fillPick() {
  const things = [["base", inPageLanguage("Base")], ["start", inPageLanguage("Start pose")], ["body", inPageLanguage("Target")], ["contact", inPageLanguage("Contact and push")]]
    .filter(([key]) => key !== "start" || !form.startIsFree)
    .concat(form.shapes().filter((s) => s.layer === "target").flatMap((s) => [[s.key, s.name], [`${s.key}-contact`, inPageLanguage("Push of the {name}", { name: s.name })]]))
    .concat(form.shapes().filter((s) => s.layer === "obstacle" || s.layer === "keep_out").map((s) => [s.key, s.name]));
  $("pick").replaceChildren(...things.map(([key, name]) => new Option(name, key, false, key === chosen.shape)));
  const count = moves.isPose(chosen.shape) ? 0 : form.rows(chosen.shape).length;
  const corners = [["", count ? inPageLanguage("all of it") : "–"]].concat([...Array(count).keys()].map((i) => [String(i), String(i + 1)]));
  $("pick-corner").replaceChildren(...corners.map(([value, words]) => new Option(words, value, false, value === String(chosen.corner ?? ""))));
  $("pick-corner").disabled = !count;
}

/** Something was changed: show it, and when it is settled keep it for undo and have it checked. */
function changed({ settled = true } = {}) {
  redraw();
  state.touch();
  if (!settled) return;
  history.keep(now());
  showHistory();
  document.body.dispatchEvent(new Event("editor-changed"));
}

function showHistory() {
  document.querySelector('[data-act="undo"]').disabled = !history.canUndo;
  document.querySelector('[data-act="redo"]').disabled = !history.canRedo;
}

async function step(to, words) {
  if (to === null) return;
  const from = document.activeElement;
  if (JSON.parse(to.drawing).rungs !== form.rungs) await ladder.become(to.whole);
  form.restore(to.drawing);
  choose(chosen.shape, null, { quiet: true });
  state.touch();
  showHistory();
  if (from.disabled || !from.isConnected) map.focus();
  tell(words);
  document.body.dispatchEvent(new Event("editor-changed"));
}

/** A tier or a further target comes, goes or moves: the form's server does it; the page, its undo and the focus stay. */
async function onLadder(verb, button) {
  const was = form.tiers, before = form.further;
  const words = await ladder.take(button.value);
  if (words === null) return;
  const fresh = form.tiers.find((key) => !was.includes(key));
  const gone = was.findIndex((key) => !form.tiers.includes(key));
  const added = fresh ? null : form.further.find((key) => !before.includes(key));
  const lost = before.length > form.further.length;
  choose(added ?? "base", null, { quiet: true });
  changed();
  if (fresh) show(fresh);
  if (added) { show(form.holder(added).closest("section.tier").dataset.tier); form.holder(added).open = true; }
  if (fresh || added) $(`${fresh ?? added}-name`).focus();
  else if (lost) map.focus();
  else if (gone >= 0) $(`${form.tiers[Math.min(gone, form.tiers.length - 1)]}-title`).focus();
  else if (verb.startsWith("move-")) ladder.moveButton(button.value).focus();
  tell(gone >= 0 || lost ? inPageLanguage("{words} Undo brings it back.", { words }) : words);
}

const stepMm = (times) => (Number($("snap").value) || { cm: 10, mm: 10, in: 25.4 }[form.unit]) * times;
const nudge = (dx, dy, times = 1) => {
  moves.nudge(chosen, dx * stepMm(times), dy * stepMm(times));
  changed();
  tell(moves.say(chosen));
};
const turn = (deg) => {
  moves.turn(chosen, deg);
  changed();
  const how = { what: moves.say(chosen), degrees: Math.abs(deg) };
  tell(deg > 0 ? inPageLanguage("{what}, turned {degrees}° left", how) : inPageLanguage("{what}, turned {degrees}° right", how));
};

const acts = {
  save: () => document.querySelector(".savebar [data-save]").click(),
  undo: () => step(history.undo(), inPageLanguage("Undone.")),
  redo: () => step(history.redo(), inPageLanguage("Done again.")),
  left: (times) => nudge(-1, 0, times),
  right: (times) => nudge(1, 0, times),
  up: (times) => nudge(0, 1, times),
  down: (times) => nudge(0, -1, times),
  "turn-left": (times, deg = 5) => turn(deg),
  "turn-right": (times, deg = 5) => turn(-deg),
  "add-corner": () => {
    const corner = moves.isPose(chosen.shape) ? null : moves.addCorner(chosen);
    if (corner === null) return tell(inPageLanguage("Choose a shape whose numbers can be read, then add a corner."));
    choose(chosen.shape, corner);
    return changed();
  },
  "remove-corner": () => {
    if (moves.isPose(chosen.shape) || !moves.removeCorner(chosen)) return tell(inPageLanguage("Choose a corner; an outline keeps at least three."));
    choose(chosen.shape, null);
    return changed();
  },
  "add-obstacle": () => add("obstacle"),
  "add-keep-out": () => add("keep_out"),
  "remove-shape": () => remove(chosen.shape),
  "remove-what": () => (chosen.corner === null ? remove(chosen.shape) : acts["remove-corner"]()),
  next: () => pick(1),
  previous: () => pick(-1),
  corner: (times) => {
    const count = moves.isPose(chosen.shape) ? 0 : form.rows(chosen.shape).length;
    if (count) choose(chosen.shape, chosen.corner === null ? 0 : (chosen.corner + (times < 0 ? count - 1 : 1)) % count);
  },
  whole: () => choose(chosen.shape, null),
};

function pick(by) {
  const keys = [...$("pick").options].map((option) => option.value);
  choose(keys[(keys.indexOf(chosen.shape) + by + keys.length) % keys.length]);
}

function add(layer, tier = form.tier) {
  const key = moves.addShape(layer, tier);
  choose(key, null);
  changed();
}

function remove(key) {
  const el = form.holder(key);
  if (!el?.dataset.tier) return tell(inPageLanguage("The base and the target stay; only obstacles and keep-outs can be taken out."));
  if (el.dataset.layer === "target") { el.querySelector('button[value^="remove-shape"]').click(); return undefined; }
  const name = form.nameOf(el);
  form.removeShape(key);
  choose("base", null, { quiet: true });
  changed();
  return tell(inPageLanguage("{name} taken out. Undo brings it back.", { name }));
}

// Buttons of the form that the map can answer without asking the server.
const steps = {
  "add-corner": (key, i) => { choose(key, Number(i), { quiet: true }); acts["add-corner"](); form.rows(key)[chosen.corner]?.querySelector("input").focus(); },
  "remove-corner": (key, i) => { choose(key, Number(i), { quiet: true }); acts["remove-corner"](); },
  "add-shape": (layer, tier) => { show(tier); add(layer, tier); $(`${chosen.shape}-name`).focus(); },
  "remove-shape": (key) => remove(key),
  "copy-shapes": (into, from) => { moves.copyShapes(into, from); show(into); choose("base", null, { quiet: true }); changed(); tell(inPageLanguage("Taken over.")); },
};

function show(tier) {
  const radio = form.element.querySelector(`input[name="shown"][value="${tier}"]`);
  if (radio) radio.checked = true;
  fold();
}

/** Only the tier that the map shows is open. */
function fold() {
  for (const el of form.element.querySelectorAll("section.tier")) {
    el.toggleAttribute("data-folded", el.dataset.tier !== form.tier);
    el.querySelector("[data-fold-tier]").setAttribute("aria-expanded", String(el.dataset.tier === form.tier));
  }
}

document.addEventListener("click", (event) => {
  const act = event.target.closest("[data-act]");
  if (act) { acts[act.dataset.act](1); return; }
  const head = event.target.closest("[data-fold-tier]");
  if (head) { show(head.dataset.foldTier); choose("base", null, { quiet: true }); }
  const button = event.target.closest('button[name="do"]');
  const [verb, ...words] = (button?.value || "").split(" ");
  if (["add-tier", "remove-tier", "move-tier", "bring-back", "move-target"].includes(verb) || ofTargets(verb, words)) {
    event.preventDefault();
    button.closest("details.menu")?.removeAttribute("open");
    onLadder(verb, button);
  } else if (steps[verb]) { event.preventDefault(); button.closest("details.menu")?.removeAttribute("open"); steps[verb](...words); }
  const put = event.target.closest("[data-step]");
  if (put) { const [, layer, tier, ...corners] = put.dataset.step.split(" "); place(layer, tier, corners); }
  const use = event.target.closest("[data-use-limit]");
  if (use) useLimit(use.dataset.useLimit, use.dataset.seconds);
  const link = event.target.closest('.problems a[href^="#"]');
  if (link) openBox(link.getAttribute("href").slice(1), event);
});

/** Steps on further targets change other boxes too (their order, what criteria are asked about): the server does them. */
function ofTargets(verb, words) {
  if (verb === "add-shape") return words[0] === "target";
  if (verb === "remove-shape") return form.holder(words[0])?.dataset.layer === "target";
  return verb === "copy-shapes" && words.some((tier) => form.shapesOf(tier).some((el) => el.dataset.layer === "target"));
}

/** A proposal of the obstacle assistant, put where it was proposed. */
function place(layer, tier, corners) {
  if (!form.element.querySelector(`[data-list="${tier}"]`)) return;
  const texts = corners.map((corner) => corner.split(",").map((mm) => writeLength(Number(mm), form.unit)));
  show(tier);
  choose(form.addShape(layer, tier, texts));
  changed();
}

function useLimit(tier, seconds) {
  form.box(`${tier}-time_limit`).value = seconds;
  changed();
  openBox(`${tier}-time_limit`, new Event("use"));
}

function openBox(id, event) {
  const target = $(id) || form.holder(id) || document.querySelector(`details[data-group="${id}"]`);
  if (!target) return;
  event.preventDefault();
  for (let el = target; el; el = el.parentElement) {
    if (el.tagName === "DETAILS") el.open = true;
    if (el.matches("section.tier")) show(el.dataset.tier);
  }
  (target.tagName === "DETAILS" ? target.querySelector("summary") : target).focus();
}

form.element.addEventListener("input", (event) => {
  const { name } = event.target;
  if (name === "shown" || event.target.closest("[data-tools]")) return;
  if (name.endsWith("-name")) {
    const key = name.slice(0, -5);
    if (form.holder(key)) form.rename(key);
    for (const el of document.querySelectorAll(`[data-tier-name="${key}"]`)) el.textContent = event.target.value;
  }
  if (name === "target_name") form.rename("body");
  changed({ settled: false });
});
form.element.addEventListener("change", (event) => {
  if (event.target.closest("[data-tools]")) return;
  if (event.target.name === "shown") { fold(); choose("base", null, { quiet: true }); }
  else { fillPick(); changed(); }
});
form.element.addEventListener("focusin", (event) => {
  const el = event.target.closest("details.shape");
  const key = el?.dataset.shape || (moves.isPose(el?.dataset.group) ? el.dataset.group : null);
  if (!key) return;
  if (el.dataset.tier && el.dataset.tier !== form.tier) show(el.dataset.tier);
  const row = event.target.closest("tr.corner");
  choose(key, row ? form.rows(key).indexOf(row) : null, { quiet: true });
});
$("pick").addEventListener("change", () => choose($("pick").value));
$("pick-corner").addEventListener("change", () => choose(chosen.shape, $("pick-corner").value === "" ? null : Number($("pick-corner").value)));

/** What the last check found, on the map and beside the boxes. */
function showProblems() {
  wrong = new Set();
  unsay(form.element);
  for (const line of document.querySelectorAll("#problems li.stops")) {
    const { box, tier } = line.dataset;
    if (!tier || tier === form.tier || form.holder(box)) wrong.add(box);
    if ($(box)?.matches("input, textarea")) sayBelow($(box), line.querySelector("a")?.textContent);
  }
  for (const el of document.querySelectorAll("details.shape")) el.classList.toggle("wrong", wrong.has(el.dataset.shape || el.dataset.group));
  redraw();
  askAgain();
}

// The planner is asked again by itself when the drawing has changed and nothing in it must change first.
let askedFor = form.snapshot();
function askAgain() {
  const drawing = form.snapshot();
  if (drawing === askedFor || wrong.size || !$("can-do-live")?.checked) return;
  askedFor = drawing;
  document.body.dispatchEvent(new Event("can-do"));
}
document.addEventListener("htmx:load", (event) => {
  for (const el of event.target.querySelectorAll?.("[data-needs-script]") || []) el.hidden = false;
});

// A save that was refused leads to what has to be decided or put right.
document.addEventListener("htmx:afterSwap", (event) => {
  if (!event.detail.requestConfig?.elt?.closest("[data-save], #state")) return;
  const conflict = $("conflict");
  if (conflict) conflict.focus();
  else document.querySelector(".problems a")?.click();
});
document.addEventListener("htmx:afterSettle", (event) => {
  if (event.target.id === "problems" || $("problems").contains(event.target)) showProblems();
});
// It is told of the element that asked: which place it came to, the detail says.
document.addEventListener("htmx:oobAfterSwap", (event) => { if (event.detail.target.id === "problems") showProblems(); });

for (const tools of document.querySelectorAll("[data-tools]")) tools.hidden = false;
map.tabIndex = 0;
map.setAttribute("role", "application");
map.setAttribute("aria-label", inPageLanguage("Map of the table"));
map.setAttribute("aria-describedby", "map-keys");
map.querySelector("svg")?.setAttribute("aria-hidden", "true");
listenToPointer({ map, chart, moves, chosen, choose, changed, say: tell });
listenToKeys({ map, acts });
new ResizeObserver(redraw).observe(map);
choose("base", null, { quiet: true });
showProblems();
