// The form's boxes are the truth; this reads and writes them as shapes and poses in mm.

import { say as inPageLanguage } from "../../site/recall.js";
import { readAngle, readLength, writeAngle, writeLength } from "./units.js";
import { unsay } from "./wrong.js";

export class Form {
  constructor(element) {
    this.element = element;
    this.unit = element.dataset.unit;
  }

  box(name) { return this.element.elements.namedItem(name); }

  length(name) { return readLength(this.box(name).value, this.unit); }

  get table() {
    const width = this.length("width"), depth = this.length("depth");
    return width >= 100 && depth >= 100 && width <= 20000 && depth <= 20000 ? { width, depth } : null;
  }

  /** What an L-shaped table lacks, as a rectangle from the near left corner in mm; null for a rectangle. */
  get missing() {
    const { table } = this, corner = this.box("missing_corner").value;
    const width = this.length("missing_width"), depth = this.length("missing_depth");
    if (!table || !corner || !(width > 0 && width < table.width && depth > 0 && depth < table.depth)) return null;
    return { x: corner.endsWith("right") ? table.width - width : 0, y: corner.startsWith("far") ? table.depth - depth : 0, width, depth };
  }

  get tier() { return this.element.querySelector('input[name="shown"]:checked')?.value || ""; }

  holder(key) { return this.element.querySelector(`details[data-shape="${key}"]`); }

  /** Shapes that the map shows now, undermost first. */
  shapes() {
    const order = ["base", "keep_out", "obstacle", "body", "target"];
    return [...this.element.querySelectorAll("details[data-shape]")]
      .filter((el) => !el.dataset.tier || el.dataset.tier === this.tier)
      .map((el) => ({ key: el.dataset.shape, layer: el.dataset.layer, name: this.nameOf(el), corners: this.corners(el.dataset.shape) }))
      .sort((a, b) => order.indexOf(a.layer) - order.indexOf(b.layer));
  }

  nameOf(el) {
    const { shape, layer } = el.dataset;
    if (layer === "base") return inPageLanguage("base");
    if (layer === "body") return this.box("target_name").value.trim() || inPageLanguage("target");
    const usual = { obstacle: inPageLanguage("obstacle"), target: inPageLanguage("target") };
    return this.box(`${shape}-name`).value.trim() || usual[layer] || inPageLanguage("keep out");
  }

  rows(key) { return [...this.holder(key).querySelectorAll("tr.corner")]; }

  /** Corners in mm, or null when one cannot be read. */
  corners(key) {
    const points = this.rows(key).map((row) => {
      const [x, y] = [...row.querySelectorAll("input")].map((input) => readLength(input.value, this.unit));
      return x === null || y === null ? null : { x, y };
    });
    return points.includes(null) ? null : points;
  }

  setCorners(key, points) {
    this.setRows(key, points.map((p) => [writeLength(p.x, this.unit), writeLength(p.y, this.unit)]));
  }

  setRows(key, texts) {
    const body = this.holder(key).querySelector("tbody");
    let rows = this.rows(key);
    if (rows.length !== texts.length) unsay(body);
    while (rows.length > texts.length) rows.pop().remove();
    while (rows.length < texts.length) {
      const row = rows[0].cloneNode(true);
      body.append(row);
      rows = this.rows(key);
    }
    rows.forEach((row, i) => {
      row.querySelectorAll("input").forEach((input, axis) => { input.value = texts[i][axis]; });
    });
    this.number(key);
  }

  /** Numbers, ids and labels of a shape's rows after rows came or went. */
  number(key) {
    const name = this.nameOf(this.holder(key));
    this.rows(key).forEach((row, i) => {
      row.querySelector("th").textContent = i + 1;
      row.querySelectorAll("input").forEach((input, axis) => {
        input.id = `${key}-${"xy"[axis]}-${i}`;
        const about = { number: i + 1, name };
        input.setAttribute("aria-label", axis ? inPageLanguage("Corner {number} of the {name}, away", about) : inPageLanguage("Corner {number} of the {name}, along", about));
      });
      const [add, remove] = row.querySelectorAll("button");
      add.value = `add-corner ${key} ${i}`;
      add.setAttribute("aria-label", inPageLanguage("Add a corner after {number}", { number: i + 1 }));
      remove.value = `remove-corner ${key} ${i}`;
      remove.setAttribute("aria-label", inPageLanguage("Take out corner {number}", { number: i + 1 }));
    });
  }

  get startIsFree() { return this.box("start_is_free").checked; }

  pose(which) {
    if (which === "start" && this.startIsFree) return null;
    const x = this.length(`${which}_x`), y = this.length(`${which}_y`);
    const heading = readAngle(this.box(`${which}_heading`).value);
    return x === null || y === null || heading === null ? null : { x, y, heading };
  }

  setPose(which, { x, y, heading }) {
    this.box(`${which}_x`).value = writeLength(x, this.unit);
    this.box(`${which}_y`).value = writeLength(y, this.unit);
    this.box(`${which}_heading`).value = writeAngle(heading);
  }

  freeKey() {
    for (let n = 1; ; n += 1) if (!this.holder(`s${n}`)) return `s${n}`;
  }

  addShape(layer, tier, texts, name = "", key = this.freeKey()) {
    const blank = document.getElementById("blank-shape").innerHTML;
    const holder = document.createElement("div");
    holder.innerHTML = blank.replaceAll("KEY", key).replaceAll("TIER", tier);
    const el = holder.querySelector("details");
    el.dataset.layer = layer;
    el.querySelector(`input[name="${key}-layer"]`).value = layer;
    el.querySelector(`input[name="${key}-name"]`).value = name;
    el.querySelector(".swatch").className = `swatch ${layer}`;
    const isObstacle = layer === "obstacle";
    el.querySelector(".kind").textContent = isObstacle ? inPageLanguage("Obstacle") : inPageLanguage("Keep-out");
    el.querySelector('button[value^="remove-shape"]').textContent = isObstacle ? inPageLanguage("Take out this obstacle") : inPageLanguage("Take out this keep-out");
    this.element.querySelector(`[data-list="${tier}"]`).append(el);
    this.setRows(key, texts);
    this.rename(key);
    return key;
  }

  rename(key) {
    const el = this.holder(key);
    const shown = this.nameOf(el);
    el.querySelector(".shape-name").textContent = el.dataset.layer === "body" ? `Target: ${shown}` : shown;
  }

  removeShape(key) { this.holder(key)?.remove(); }

  shapesOf(tier) { return [...this.element.querySelectorAll(`details[data-tier="${tier}"]`)]; }

  texts(key) { return this.rows(key).map((row) => [...row.querySelectorAll("input")].map((input) => input.value)); }

  /** The tiers' keys in their order. */
  get tiers() { return [...this.element.querySelectorAll("section.tier")].map((el) => el.dataset.tier); }

  /** The keys of all tiers' further targets in their order. */
  get further() { return [...this.element.querySelectorAll('details[data-layer="target"]')].map((el) => el.dataset.shape); }

  /** What only the server can make: tiers and their further targets. */
  get rungs() { return [...this.tiers, ...this.further].join(" "); }

  /** Everything in the form, as it would be sent. */
  whole() { return new URLSearchParams(new FormData(this.element)).toString(); }

  /** Every target that the map shows: its body's key, the name that its boxes begin with, the key of its contact. */
  targets() {
    const further = this.shapes().filter((shape) => shape.layer === "target").map(({ key }) => key);
    return [{ body: "body", boxes: "", contact: "contact" }]
      .concat(further.map((key) => ({ body: key, boxes: `${key}-`, contact: `${key}-contact` })));
  }

  /** Everything that undo brings back. */
  snapshot() {
    const names = ["width", "depth", "missing_corner", "missing_width", "missing_depth", "margin", "start_x", "start_y", "start_heading", "contact_x", "contact_y",
      "contact_heading", "gap", "push", "short", "long", "lateral", "heading_window", "target_name"];
    return JSON.stringify({
      numbers: names.map((name) => [name, this.box(name).value]),
      free: this.startIsFree,
      rungs: this.rungs,
      shapes: [...this.element.querySelectorAll("details[data-shape]")].map((el) => {
        const { shape, layer, tier } = el.dataset;
        return { key: shape, layer, tier, name: tier ? this.box(`${shape}-name`).value : "", texts: this.texts(shape), numbers: this.numbers(el) };
      }),
    });
  }

  /** The boxes of a further target. */
  numbers(el) { return el.dataset.layer === "target" ? [...el.querySelectorAll(".boxes input")].map((input) => [input.name, input.value]) : []; }

  restore(text) {
    const { numbers, free, shapes } = JSON.parse(text);
    for (const [name, value] of numbers) this.box(name).value = value;
    this.box("start_is_free").checked = free;
    const open = new Set([...this.element.querySelectorAll("details[data-shape][open]")].map((el) => el.dataset.shape));
    for (const el of this.element.querySelectorAll('[data-list] > details:not([data-layer="target"])')) el.remove();
    for (const { key, layer, tier, name, texts, numbers: own } of shapes) {
      if (layer === "target") {
        for (const [box, value] of own) this.box(box).value = value;
        this.box(`${key}-name`).value = name;
      }
      if (!tier || layer === "target") this.setRows(key, texts);
      else if (this.element.querySelector(`[data-list="${tier}"]`)) this.addShape(layer, tier, texts, name, key);
      const el = this.holder(key);
      if (el) el.open = open.has(key);
    }
    this.rename("body");
  }
}
