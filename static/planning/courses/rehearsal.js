// Plays a course on the map of its page. What stands where and when comes from the server, out of the check's own numbers;
// nothing is worked out here but the moment between two of them.

import { inOwnDigits, say } from "../../site/recall.js";

const SVG = "http://www.w3.org/2000/svg";
const QUICK = 4;
const CHANGED = () => say("The draft has changed. Rehearse it again to see how it goes now.");
const GHOST_WORD = 0.85; // letters of a word at a failed run, in letters of the map

// How much of a step is done so long after it began: gaining speed, full speed, losing speed, rest.
export function share(step, at) {
  const { ramp, cruise } = step;
  const t = at - step.begins;
  if (t >= 2 * ramp + cruise) return 1;
  if (t <= 0) return 0;
  const top = 1 / (ramp + cruise);
  if (t < ramp) return (top * t * t) / (2 * ramp);
  if (t <= ramp + cruise) return top * (t - ramp / 2);
  return 1 - (top * (2 * ramp + cruise - t) ** 2) / (2 * ramp);
}

export const between = (a, b, part) => a.map((value, i) => value + part * (b[i] - value));

// The step that is under way; after the end the last one.
export function stepAt(steps, at) {
  const found = steps.findIndex((step) => at < step.ends);
  return found < 0 ? steps.length - 1 : found;
}

// Everything that is to be seen at one moment.
export function frame(record, at) {
  const { steps, poses, targets } = record;
  const i = stepAt(steps, at);
  const part = share(steps[i], at);
  const moved = targets.map(() => [0, 0]);
  steps.slice(0, i + 1).forEach((step, k) => {
    if (!step.carried) return;
    const { target, by, after } = step.carried;
    const done = k < i || after >= 1 ? 1 : Math.max(0, part - after) / (1 - after);
    moved[target] = moved[target].map((value, axis) => value + done * by[axis]);
  });
  const lowered = part >= 1 || i === 0 ? steps[i].lowered : steps[i - 1].lowered;
  return { step: i, part, pose: between(poses[i], poses[i + 1], part), lowered, moved };
}

// Where a pretend run is: it stops where it fails.
export function ghostAt(ghost, step, part) {
  const { fails, poses } = ghost;
  const failed = Boolean(fails) && (step > fails.step || (step === fails.step && part >= fails.share));
  const [i, done] = failed ? [fails.step, fails.share] : [step, part];
  return { pose: between(poses[i], poses[i + 1], done), failed };
}

function element(name, kind, more = {}) {
  const made = document.createElementNS(SVG, name);
  made.setAttribute("class", kind);
  for (const [key, value] of Object.entries(more)) made.setAttribute(key, value);
  return made;
}

const ring = (points, kind) => element("polygon", kind, { points: points.map(([x, y]) => `${x},${y}`).join(" ") });
const put = (made, [x, y, turned]) => made.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)}) rotate(${turned.toFixed(2)})`);

// The shapes of endings, about (0, 0), of one letter's size.
const SHAPES = {
  cross: "M-.5 -.5L.5 .5M-.5 .5L.5 -.5",
  lozenge: "M0 -.6L.6 0L0 .6L-.6 0Z",
  wedge: "M-.55 -.45L.55 -.45L0 .55Z",
  ring: "M.5 0A.5 .5 0 1 1 -.5 0A.5 .5 0 1 1 .5 0Z",
};

function shape(name, kind) {
  return element("path", kind, { d: SHAPES[name] });
}

// What is drawn over the map, in the table's own coordinates with y up.
class Overlay {
  constructor(chart, record) {
    this.record = record;
    this.chart = chart;
    this.root = element("g", "rehearsal-layer", { transform: `translate(0 ${record.depth_mm}) scale(1 -1)`, "aria-hidden": "true" });
    this.targets = record.targets.map((outline) => ring(outline, "rehearsal-target"));
    this.wake = element("polyline", "rehearsal-wake", { points: "" });
    this.ghosts = record.ghosts.map((ghost) => this.ghost(ghost));
    this.ghostLayer = element("g", "rehearsal-ghosts");
    this.markLayer = element("g", "rehearsal-marks");
    this.ghostLayer.append(...this.ghosts.map((each) => each.body));
    this.words = [];
    this.marked();
    this.travel = this.robot(record.travel);
    this.working = this.robot(record.working);
    this.root.append(...this.targets, this.wake, this.ghostLayer, this.travel, this.working, this.markLayer);
    chart.append(this.root);
    chart.classList.add("rehearsing");
  }

  robot(parts) {
    const made = element("g", "rehearsal-robot");
    const reach = Math.max(...parts.flat().map(([x]) => x));
    made.append(...parts.map((part) => ring(part, "rehearsal-body")), element("path", "rehearsal-ahead", { d: `M0 0H${reach}` }));
    return made;
  }

  ghost(ghost) {
    const body = element("g", "rehearsal-ghost");
    body.append(...this.record.travel.map((part) => ring(part, "rehearsal-ghost-body")));
    return { ghost, body, mark: null };
  }

  // Every failed run bears a shape. Words of runs that fail close together stand in one line above them.
  marked() {
    const letter = this.record.letter_mm;
    const clusters = [];
    for (const each of this.ghosts) {
      const { fails, poses } = each.ghost;
      if (!fails) continue;
      const [x, y] = between(poses[fails.step], poses[fails.step + 1], fails.share);
      each.mark = element("g", "rehearsal-mark", { transform: `translate(${x.toFixed(1)} ${y.toFixed(1)}) scale(${letter})` });
      each.mark.append(shape(fails.shape, "rehearsal-shape"));
      this.markLayer.append(each.mark);
      const near = clusters.find((one) => one.step === fails.step && Math.hypot(one.x - x, one.y - y) < 5 * letter);
      const cluster = near ?? { step: fails.step, x, y, marks: [] };
      if (!near) clusters.push(cluster);
      cluster.marks.push({ each, y });
    }
    for (const { x, marks } of clusters) {
      const top = Math.max(...marks.map((mark) => mark.y)) + 0.9 * letter;
      const words = [...new Set(marks.map((mark) => mark.each.ghost.fails.word))].join(", ");
      const word = element("text", "rehearsal-word", { transform: `translate(${x.toFixed(1)} ${top.toFixed(1)}) scale(1 -1)`, "font-size": (GHOST_WORD * letter).toFixed(1) });
      word.textContent = words;
      this.words.push({ word, of: marks.map((mark) => mark.each) });
      this.markLayer.append(word);
    }
  }

  get alive() { return this.root.isConnected; }

  show(at, withGhosts) {
    const now = frame(this.record, at);
    const { steps, poses } = this.record;
    this.travel.toggleAttribute("hidden", now.lowered);
    this.working.toggleAttribute("hidden", !now.lowered);
    put(now.lowered ? this.working : this.travel, now.pose);
    this.targets.forEach((target, i) => put(target, [...now.moved[i], 0]));
    const way = [...poses.slice(0, now.step + 1), now.pose];
    this.wake.setAttribute("points", way.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" "));
    this.ghostLayer.toggleAttribute("hidden", !withGhosts);
    this.markLayer.toggleAttribute("hidden", !withGhosts);
    for (const each of withGhosts ? this.ghosts : []) {
      const { pose, failed } = ghostAt(each.ghost, now.step, now.part);
      each.failed = failed;
      put(each.body, pose);
      each.body.classList.toggle("failed", failed);
      each.mark?.toggleAttribute("hidden", !failed);
    }
    for (const { word, of } of this.words) word.toggleAttribute("hidden", !of.some((each) => each.failed));
    this.root.dataset.pose = now.pose.map((value) => value.toFixed(3)).join(" ");
    this.root.dataset.at = at.toFixed(5);
    return steps[now.step] && now;
  }

  remove() {
    this.root.remove();
    this.chart.classList.remove("rehearsing");
  }
}

class Rehearsal {
  constructor(root) {
    this.root = root;
    this.part = (name) => root.querySelector(`[data-rehearse="${name}"]`);
    this.deck = root.querySelector("#rehearsal-deck");
    this.still = matchMedia("(prefers-reduced-motion: reduce)");
    this.at = 0;
    this.until = null; // where a step that was asked for ends; null for the whole course
    this.running = false;
    this.part("open").addEventListener("click", () => (this.deck.hidden ? this.open() : this.close()));
    for (const what of ["run", "back", "on", "start"]) this.part(what).addEventListener("click", () => this[what]());
    this.part("ghosts").addEventListener("change", () => this.draw());
    this.deck.addEventListener("keydown", (event) => this.key(event));
    this.still.addEventListener("change", () => this.mode());
    root.hidden = false;
  }

  // The map of the page that this stands on; a draft's map is another one after every change.
  get chart() { return document.querySelector(".chart"); }

  // What stands there to be kept; a course that was kept has none.
  get draft() { return document.querySelector("form#keep")?.elements.draft.value; }

  async open() {
    const button = this.part("open");
    button.disabled = true;
    this.refuse("");
    this.played = this.draft;
    try {
      const response = await fetch(this.root.dataset.rehearsal, this.asked());
      const record = await response.json();
      if (!response.ok) throw new Error(record.wrong);
      if (this.draft === this.played) this.begin(record);
      else this.refuse(CHANGED());
    } catch (error) {
      this.refuse(error instanceof SyntaxError || error instanceof TypeError ? say("There was no answer. Try again when the network is back.") : error.message);
    }
    button.disabled = false;
    if (!this.deck.hidden) this.part(this.still.matches ? "on" : "run").focus();
  }

  asked() {
    const draft = document.querySelector("form#keep");
    return draft ? { method: "POST", body: new FormData(draft) } : {};
  }

  begin(record) {
    this.record = record;
    this.overlay?.remove();
    this.overlay = new Overlay(this.chart, record);
    this.watch?.disconnect();
    this.watch = new MutationObserver(() => this.draw()); // a draft's map goes with every change of it
    this.watch.observe(this.chart.parentElement, { childList: true });
    this.part("tally").replaceChildren(...record.tally.map((line) => this.line(line)));
    for (const name of ["tally-box", "ghosts-row"]) this.part(name).hidden = !record.ghosts.length;
    this.deck.hidden = false;
    this.part("open").textContent = say("Close it");
    this.part("open").setAttribute("aria-expanded", "true");
    this.mode();
    this.start();
  }

  line({ shape: name, words }) {
    const item = document.createElement("li");
    const sign = element("svg", "tally-sign", { viewBox: "-.75 -.75 1.5 1.5", "aria-hidden": "true" });
    sign.append(shape(name, name === "ring" ? "rehearsal-shape works" : "rehearsal-shape"));
    item.append(sign, words);
    return item;
  }

  close() {
    this.stop();
    this.overlay?.remove();
    this.deck.hidden = true;
    this.part("open").textContent = say("Rehearse it");
    this.part("open").setAttribute("aria-expanded", "false");
  }

  refuse(words) {
    this.part("wrong").textContent = words;
    this.part("wrong").hidden = !words;
  }

  mode() {
    for (const name of ["run", "quick-row"]) this.part(name).hidden = this.still.matches;
    this.part("still").hidden = !this.still.matches;
    if (this.still.matches && this.running) this.stop();
  }

  get end() { return this.record.steps.at(-1).ends; }

  run() {
    if (this.running) return this.stop();
    if (this.at >= this.end) this.at = 0;
    this.until = null;
    return this.go();
  }

  // To the end of the step that is under way, or of the next one.
  on() {
    const { steps } = this.record;
    const i = stepAt(steps, this.running ? this.at : this.at + 1e-6);
    if (this.still.matches) { this.at = steps[i].ends; this.stop(); return; }
    this.until = steps[i].ends;
    this.go();
  }

  back() {
    const { steps } = this.record;
    const begun = steps.filter((step) => step.begins < this.at - 1e-6);
    this.at = begun.length ? begun.at(-1).begins : 0;
    this.stop();
  }

  start() { this.at = 0; this.stop(); }

  go() {
    if (this.running) return;
    this.running = true;
    this.part("run").textContent = say("Stop");
    let last = null;
    const tick = (time) => {
      if (!this.running) return;
      const passed = last === null ? 0 : (time - last) / 1000;
      last = time;
      const speed = this.part("quick").checked ? QUICK : 1;
      const goal = this.until ?? this.end;
      this.at = Math.min(goal, this.at + Math.min(passed, 0.25) * speed);
      if (this.at >= goal) this.stop();
      else { this.draw(); requestAnimationFrame(tick); }
    };
    requestAnimationFrame(tick);
  }

  stop() {
    this.running = false;
    this.part("run").textContent = say("Run it through");
    this.draw();
    this.part("said").textContent = `${this.words(this.shown)} ${this.clock()}`;
  }

  clock() { return say("{at} s of {end} s", { at: inOwnDigits(this.at.toFixed(1)), end: inOwnDigits(this.end.toFixed(1)) }); }

  words(i) {
    const step = this.record.steps[i];
    return step ? `${i + 1}  ${step.words} ${step.type}`.trim() : "";
  }

  draw() {
    if (this.deck.hidden || !this.overlay) return;
    if (!this.overlay.alive && this.draft !== this.played) {
      this.overlay = null;
      this.close();
      this.refuse(CHANGED());
      return;
    }
    // The same draft on a new map: the check of when the page was opened has only now been answered.
    if (!this.overlay.alive) this.overlay = new Overlay(this.chart, this.record);
    const now = this.overlay.show(this.at, this.part("ghosts").checked);
    // Between two steps what comes next is what is to be typed now; at the very end the last step stays.
    this.shown = this.running ? now.step : stepAt(this.record.steps, this.at + 1e-6);
    this.part("before").textContent = this.words(this.shown - 1) || say("At the start");
    this.part("now").textContent = this.words(this.shown);
    this.part("next").textContent = this.words(this.shown + 1) || say("Done");
    this.part("clock").textContent = this.clock();
  }

  key(event) {
    const way = { " ": "run", ArrowRight: "on", ArrowLeft: "back", Home: "start" }[event.key];
    const pressed = event.target.closest("button, input, label");
    if (!way || event.ctrlKey || event.metaKey || event.altKey || (event.key === " " && pressed)) return;
    event.preventDefault();
    if (way === "run" && this.still.matches) this.on();
    else this[way]();
  }
}

const here = typeof document === "undefined" ? null : document.querySelector("[data-rehearsal]");
if (here) new Rehearsal(here);
