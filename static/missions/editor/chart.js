// Draws the form as a chart. All from scratch each time: a mission has few shapes.

import { middle } from "./geometry.js";
import { sayLength } from "./units.js";

const SVG = "http://www.w3.org/2000/svg";
const EDGE = 40;
const GRID = 100;
const BAR = { cm: 500, mm: 500, in: 508 };

function make(tag, attributes = {}, ...children) {
  const el = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) el.setAttribute(name, value);
  el.append(...children);
  return el;
}

export class Chart {
  constructor(holder, form) {
    this.holder = holder;
    this.form = form;
  }

  get svg() { return this.holder.querySelector("svg"); }

  /** Pixels of the screen per mm of the table. */
  get scale() { return this.svg.getScreenCTM()?.a || 1; }

  /** Table coordinates of a pointer. */
  place(event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    return { x: at.x, y: this.depth - at.y };
  }

  draw(chosen, wrong = new Set()) {
    const table = this.form.table;
    if (!this.svg) return;
    if (table) this.frame(table);
    const drawn = this.svg.querySelector("#drawn");
    drawn.replaceChildren();
    if (!table) return;
    this.missing(this.form.missing);
    const px = 1 / this.scale;
    this.svg.setAttribute("font-size", Math.max(13 * px, table.width / 90).toFixed(1));
    for (const shape of this.form.shapes()) if (shape.corners) drawn.append(this.shape(shape, chosen, wrong));
    this.pushed(drawn);
    for (const which of ["start", ...this.form.targets().map(({ contact }) => contact)]) {
      const pose = this.form.pose(which);
      if (pose) drawn.append(this.pose(which, pose, chosen, wrong, px));
    }
    const corners = chosen.shape && this.form.holder(chosen.shape) && this.form.corners(chosen.shape);
    if (corners) drawn.append(this.grips(chosen, corners, px));
    drawn.append(this.bar(table, px));
  }

  frame({ width, depth }) {
    if (width === this.width && depth === this.depth) return;
    Object.assign(this, { width, depth });
    this.svg.setAttribute("viewBox", `${-EDGE} ${-EDGE} ${width + 2 * EDGE} ${depth + 2 * EDGE}`);
    for (const rect of this.svg.querySelectorAll(".ed-table, .ed-edge")) {
      rect.setAttribute("width", width);
      rect.setAttribute("height", depth);
    }
    const lines = [];
    for (let x = GRID; x < width; x += GRID) lines.push(make("path", { d: `M${x} 0V${depth}` }));
    for (let y = GRID; y < depth; y += GRID) lines.push(make("path", { d: `M0 ${depth - y}H${width}` }));
    this.svg.querySelector(".ed-grid").replaceChildren(...lines);
  }

  /** Where an L-shaped table is none. */
  missing(part) {
    const rect = this.svg.querySelector(".ed-missing");
    const box = part ? { x: part.x, y: this.depth - part.y - part.depth, width: part.width, height: part.depth } : { width: 0, height: 0 };
    for (const [name, value] of Object.entries(box)) rect.setAttribute(name, value);
  }

  points(corners) { return corners.map((p) => `${p.x.toFixed(1)},${(this.depth - p.y).toFixed(1)}`).join(" "); }

  shape({ key, layer, name, corners }, chosen, wrong) {
    const state = `${chosen.shape === key ? " chosen" : ""}${wrong.has(key) ? " wrong" : ""}`;
    const label = this.label(layer, name, corners);
    return make("g", { class: `ed-shape ${layer}${state}` },
      make("polygon", { class: "ed-grip", "data-grip": `shape:${key}`, points: this.points(corners) }), label);
  }

  /** A name that is longer than the table is cut, and none hangs over its edges. */
  label(layer, name, corners) {
    const em = Number(this.svg.getAttribute("font-size")) * 0.6;
    const most = Math.max(4, Math.floor(this.width / em) - 1);
    const shown = name.length > most ? `${name.slice(0, most - 1).trimEnd()}…` : name;
    const place = this.labelPlace(layer, shown, corners), half = shown.length * em / 2;
    return make("text", { ...place, x: Math.min(Math.max(place.x, half), Math.max(half, this.width - half)) }, shown);
  }

  /** In the middle; the base's at its near edge, and a name too long for its shape above it. */
  labelPlace(layer, name, corners) {
    const em = Number(this.svg.getAttribute("font-size"));
    const at = middle(corners), xs = corners.map((p) => p.x), ys = corners.map((p) => p.y);
    let y = at.y;
    if (layer === "base") y = Math.min(...ys) + em;
    else if (layer === "body" || layer === "target" || name.length * em * 0.6 > Math.max(...xs) - Math.min(...xs)) y = Math.max(...ys) + em;
    return { x: at.x, y: this.depth - y };
  }

  /** Where each target stands after its push. */
  pushed(drawn) {
    for (const target of this.form.targets()) {
      const body = this.form.corners(target.body), contact = this.form.pose(target.contact), push = this.form.length(`${target.boxes}push`);
      if (!body || !contact || push === null) continue;
      const h = contact.heading * Math.PI / 180;
      const moved = body.map((p) => ({ x: p.x + push * Math.cos(h), y: p.y + push * Math.sin(h) }));
      drawn.append(make("polygon", { class: "ed-pushed", points: this.points(moved) }));
    }
  }

  pose(which, { x, y, heading }, chosen, wrong, px) {
    const state = `${chosen.shape === which ? " chosen" : ""}${wrong.has(which) ? " wrong" : ""}`;
    const path = which === "start" ? "M-40 -50L60 0L-40 50L-15 0Z" : "M-110 0H-30M-50 -28L0 0L-50 28";
    const kind = which === "start" ? "start" : "contact";
    return make("g", { class: `ed-pose ${kind}${state}`, transform: `translate(${x} ${this.depth - y}) rotate(${-heading})` },
      make("path", { d: path }),
      make("circle", { class: "ed-hit ed-grip", "data-grip": `pose:${which}`, cx: which === "start" ? 0 : -45, cy: 0, r: Math.max(60, 22 * px) }));
  }

  grips(chosen, corners, px) {
    const group = make("g", { class: "ed-grips chosen" });
    corners.forEach((p, i) => {
      const at = { cx: p.x, cy: this.depth - p.y };
      group.append(
        make("circle", { class: `ed-corner${chosen.corner === i ? " chosen" : ""}`, ...at, r: 7 * px }),
        make("circle", { class: "ed-hit ed-grip", "data-grip": `corner:${chosen.shape}:${i}`, ...at, r: 22 * px }));
    });
    return group;
  }

  bar({ width, depth }, px) {
    const long = BAR[this.form.unit], x = width - long - 40, y = depth - 30;
    return make("g", { class: "ed-scale", "aria-hidden": "true" },
      make("path", { d: `M${x} ${y - 10}V${y}H${x + long}V${y - 10}` }),
      make("text", { x: x + long / 2, y: y - 12 * px }, sayLength(long, this.form.unit)));
  }
}
