// Maps whose letters can be read at every width: where the drawing is small its letters keep 12 px and its margins grow
// with them, numbers of rulers and steps that would run into one another are left out, and a tap shows the map bigger.

import { say } from "./recall.js";

const LEAST_PX = 12;
const WIDE_PX = 900;
const APART = 1.25; // so many radii lie between the middles of two steps' numbers at least, as where they are drawn (motion/picture/chart.py)
const AWAY = [0, -1, 1, -2, 2, -3, 3, -4, 4, -6, 6, -9, 9].map((thirds) => thirds / 3); // how far a name is moved, in its own heights
const number = (element, name) => Number(element.getAttribute(name));

/* How it was drawn, read once: every later size starts from there. */
function drawn(svg) {
  const [x, y, width, height] = svg.getAttribute("viewBox").split(/\s+/).map(Number);
  const font = -x / 2.4;
  const texts = [...svg.querySelectorAll("text[font-size]")].map((text) => {
    const badge = text.previousElementSibling?.classList.contains("chart-badge") && text.classList.contains("chart-badge-text")
      ? text.previousElementSibling : null;
    return { text, badge, size: number(text, "font-size"), x: number(text, "x"), y: number(text, "y"), r: badge ? number(badge, "r") : 0 };
  });
  const depth = height - 5.2 * font;
  const below = [...svg.querySelectorAll(".chart-bar, .chart-dial, .chart-dial-hand")].map((part) => ({
    part, at: ["y1", "y2", "cy"].filter((name) => part.hasAttribute(name)).map((name) => [name, number(part, name)]),
  }));
  return { font, width: width - 3.2 * font, depth, texts, below, top: y };
}

const was = new WeakMap();

function fit(svg) {
  if (!svg.isConnected || svg.id === "chart" || !svg.clientWidth) return; // the editor letters its own
  if (!was.has(svg)) was.set(svg, drawn(svg));
  const { font, width, depth, texts, below } = was.get(svg);
  let letter = font;
  for (let turn = 0; turn < 4; turn += 1) {
    svg.setAttribute("viewBox", `${-2.4 * letter} ${-0.8 * letter} ${width + 3.2 * letter} ${depth + 5.2 * letter}`);
    const least = (LEAST_PX + 0.2) / svg.getScreenCTM().a; // a hair more: a size is rounded when it is drawn
    if (least <= letter * 1.001) break;
    letter = least;
  }
  const least = (LEAST_PX + 0.2) / svg.getScreenCTM().a;
  const k = letter / font;
  const off = (y) => (y > depth ? depth + (y - depth) * k : y);
  for (const { part, at } of below) for (const [name, y] of at) part.setAttribute(name, off(y));
  for (const { text, badge, size, x, y, r } of texts) {
    const now = Math.max(size, least);
    text.setAttribute("font-size", now);
    text.setAttribute("x", x < 0 ? x * k : x);
    text.setAttribute("y", off(y));
    if (!badge) continue;
    badge.setAttribute("r", r * now / size);
    text.setAttribute("y", number(badge, "cy") + (y - number(badge, "cy")) * now / size);
  }
  thinOut(texts.filter(({ badge }) => badge));
  apart(svg, texts.map(({ text }) => text), letter, k, width, depth);
}

/* Of the numbers of steps that would lie on one another the first stays; a drawing as big as it was meant has none such. */
function thinOut(steps) {
  const shown = [];
  for (const { text, badge } of steps) {
    const [x, y, r] = ["cx", "cy", "r"].map((name) => number(badge, name));
    const room = shown.every((other) => Math.hypot(other.x - x, other.y - y) >= APART * Math.max(r, other.r));
    for (const part of [text, badge]) if (room) part.removeAttribute("visibility"); else part.setAttribute("visibility", "hidden");
    if (room) shown.push({ x, y, r });
  }
}

const clear = (a, b) => a.x + a.width <= b.x || b.x + b.width <= a.x || a.y + a.height <= b.y || b.y + b.height <= a.y;
const within = (a, b) => a.x >= b.x && a.y >= b.y && a.x + a.width <= b.x + b.width && a.y + a.height <= b.y + b.height;

/* What stands first keeps its place; a number of a ruler gives way, a name moves as far as it must, a target's off the target too. */
function apart(svg, texts, letter, k, width, depth) {
  const taken = [];
  const targets = k > 1 ? [...svg.querySelectorAll(".chart-target, .chart-target-after")].map((target) => target.getBBox()) : [];
  const names = texts.filter((text) => text.classList.contains("chart-label"));
  for (const text of texts.filter((one) => one.classList.contains("chart-ruler"))) {
    text.removeAttribute("visibility");
    const box = text.getBBox();
    if (taken.every((other) => clear(box, other))) taken.push(box); else text.setAttribute("visibility", "hidden");
  }
  for (const text of names) {
    const box = text.getBBox();
    const inwards = (x) => x + Math.max(0, -2 * letter - x) - Math.max(0, x + box.width - width - 0.5 * letter);
    const off = text.classList.contains("chart-label-target") ? targets : [];
    const grown = box.width / 2 * (1 - 1 / k) + 0.2 * letter;
    const free = ({ x, y }) => y > -letter && y + box.height < depth + letter && [...taken, ...off].every((other) => {
      const here = { x, y, width: box.width, height: box.height };
      return clear(here, other) || (off.includes(other) && within(here, other));
    });
    const places = AWAY.flatMap((n) => (off.length ? [0, -grown, grown] : [0]).map((dx) => (
      { x: inwards(box.x + dx), y: box.y + n * 1.1 * box.height })));
    const onTable = places.filter(({ y }) => y >= 0 && y + box.height <= depth);
    const place = onTable.find(free) ?? places.find(free) ?? { x: inwards(box.x), y: box.y };
    text.setAttribute("x", number(text, "x") + place.x - box.x);
    text.setAttribute("y", number(text, "y") + place.y - box.y);
    taken.push(text.getBBox());
  }
}

/* The same drawing in a window of its own, wide enough to read and to be moved about in. */
const buttons = new WeakMap(); // by what holds the map: it is drawn anew while somebody presses

function bigger(svg) {
  const holder = svg.parentElement;
  if (buttons.has(holder)) { svg.after(buttons.get(holder)); return; }
  const button = document.createElement("button");
  buttons.set(holder, button);
  button.type = "button";
  button.className = "quiet bigger no-print";
  button.textContent = say("Bigger map");
  button.addEventListener("click", () => {
    const shown = holder.querySelector("svg.chart");
    const copy = shown.cloneNode(true);
    copy.removeAttribute("id");
    for (const part of copy.querySelectorAll("[id]")) if (!part.closest("defs")) part.removeAttribute("id");
    const dialog = document.createElement("dialog");
    dialog.className = "bigger-map";
    dialog.setAttribute("aria-label", say("Map"));
    const close = document.createElement("button");
    close.className = "go";
    close.textContent = say("Close the map");
    close.addEventListener("click", () => dialog.close());
    const room = document.createElement("div");
    room.className = "scroll";
    room.tabIndex = 0;
    room.setAttribute("role", "region");
    room.setAttribute("aria-label", say("The map, to be moved about"));
    room.append(copy);
    dialog.append(close, room);
    dialog.addEventListener("close", () => { dialog.remove(); button.focus(); });
    document.body.append(dialog);
    was.set(copy, drawnAgain(shown, copy));
    dialog.showModal();
    fit(copy);
  });
  svg.after(button);
}

/* A copy starts from how the first was drawn, not from how it stands now. */
function drawnAgain(svg, copy) {
  const first = was.get(svg);
  const texts = [...copy.querySelectorAll("text[font-size]")];
  const parts = [...copy.querySelectorAll(".chart-bar, .chart-dial, .chart-dial-hand")];
  return {
    ...first,
    texts: first.texts.map((each, i) => ({ ...each, text: texts[i], badge: each.badge ? texts[i].previousElementSibling : null })),
    below: first.below.map((each, i) => ({ ...each, part: parts[i] })),
  };
}

const sizes = new ResizeObserver((entries) => { for (const { target } of entries) fit(target); });

function take(svg) {
  if (was.has(svg) || svg.id === "chart" || !svg.getAttribute("viewBox")) return;
  fit(svg);
  if (!was.has(svg)) was.set(svg, drawn(svg));
  sizes.observe(svg);
  if (svg.clientWidth < WIDE_PX && !svg.closest("dialog")) bigger(svg);
}

const all = (root) => { for (const svg of root.querySelectorAll("svg.chart")) take(svg); };
new MutationObserver((changes) => {
  if (changes.some(({ addedNodes }) => addedNodes.length)) all(document);
}).observe(document.body, { childList: true, subtree: true });
all(document);
