// What can be done to the selected shape, pose or corner: the same for dragging, keys and buttons.

import { inOwnDigits, say as inPageLanguage } from "../../site/recall.js";
import { faceNear, middle, snapped, turned } from "./geometry.js";
import { sayLength, writeLength } from "./units.js";

const REACH_PX = 8;
const ON_FACE_MM = 3;

export class Moves {
  constructor(form, chart, options) {
    this.form = form;
    this.chart = chart;
    this.options = options; // () => ({grid, edges})
  }

  isPose(key) { return key === "start" || this.isContact(key); }

  isContact(key) { return key === "contact" || Boolean(key?.endsWith("-contact")); }

  /** The key of a contact's body, and of a body's contact; null for what is no target. */
  bodyOf(contact) { return contact === "contact" ? "body" : contact.slice(0, -"-contact".length); }

  contactOf(shape) {
    if (shape === "body") return "contact";
    return this.form.holder(shape)?.dataset.layer === "target" ? `${shape}-contact` : null;
  }

  points(chosen) {
    if (this.isPose(chosen.shape)) { const pose = this.form.pose(chosen.shape); return pose ? [pose] : null; }
    const corners = this.form.holder(chosen.shape) && this.form.corners(chosen.shape);
    if (!corners) return null;
    return chosen.corner === null ? corners : [corners[chosen.corner]];
  }

  /** Lines to snap to: the table's edges and the other shapes' corners. */
  lines(axis, but) {
    const table = this.form.table;
    const lines = [0, axis === "x" ? table.width : table.depth];
    for (const shape of this.form.shapes()) if (shape.key !== but && shape.corners) lines.push(...shape.corners.map((p) => p[axis]));
    return lines;
  }

  /** Move from where it was (`from`, points) by a pointer's way, snapped. */
  drag(chosen, from, by) {
    const { grid, edges } = this.options();
    const way = {};
    for (const axis of ["x", "y"]) {
      const lines = edges ? this.lines(axis, chosen.shape) : [];
      const values = from.map((p) => p[axis]);
      const sides = from.length > 1 ? [Math.min(...values), Math.max(...values)] : [values[0]];
      const found = sides.map((side) => snapped(side + by[axis], lines, REACH_PX / this.chart.scale, 0) - side);
      const snappedToLine = found.find((step) => step !== by[axis]);
      way[axis] = snappedToLine ?? snapped(sides[0] + by[axis], [], 0, grid) - sides[0];
    }
    this.put(chosen, from.map((p) => ({ ...p, x: p.x + way.x, y: p.y + way.y })));
  }

  nudge(chosen, dx, dy) {
    const from = this.points(chosen);
    if (from) this.put(chosen, from.map((p) => ({ ...p, x: p.x + dx, y: p.y + dy })));
  }

  put(chosen, points) {
    const { shape, corner } = chosen;
    if (this.isContact(shape)) return this.form.setPose(shape, this.onFace(points[0], this.bodyOf(shape)));
    if (shape === "start") return this.form.setPose("start", points[0]);
    const before = this.form.corners(shape);
    const after = corner === null ? points : before.map((p, i) => (i === corner ? points[0] : p));
    if (this.contactOf(shape)) this.carryContact(this.contactOf(shape), before, after, corner === null);
    if (shape === "base" && corner === null) this.carryStart(before, after);
    return this.form.setCorners(shape, after);
  }

  /** A contact near a face lies on it and pushes straight into it. */
  onFace(pose, shape) {
    const body = this.form.corners(shape);
    const face = body && faceNear(body, pose);
    return face ? { x: face.x, y: face.y, heading: face.heading } : pose;
  }

  /** The contact goes with the target, and stays on its face when a corner moves. */
  carryContact(key, before, after, whole) {
    const contact = this.form.pose(key);
    if (!contact) return;
    if (whole) {
      const dx = after[0].x - before[0].x, dy = after[0].y - before[0].y;
      this.form.setPose(key, { ...contact, x: contact.x + dx, y: contact.y + dy });
    } else if (faceNear(before, contact).d <= ON_FACE_MM) {
      const face = faceNear(after, contact);
      this.form.setPose(key, { x: face.x, y: face.y, heading: face.heading });
    }
  }

  /** The start goes with the base that it lies in. */
  carryStart(before, after) {
    const start = this.form.pose("start");
    if (start) this.form.setPose("start", { ...start, x: start.x + after[0].x - before[0].x, y: start.y + after[0].y - before[0].y });
  }

  turn(chosen, deg) {
    const { shape } = chosen;
    if (this.isPose(shape)) {
      const pose = this.form.pose(shape);
      if (pose) this.form.setPose(shape, { ...pose, heading: pose.heading + deg });
      return;
    }
    const corners = this.form.corners(shape);
    if (!corners) return;
    const about = middle(corners);
    const rider = shape === "base" ? "start" : this.contactOf(shape);
    const pose = rider && this.form.pose(rider);
    if (pose) this.form.setPose(rider, { ...turned([pose], deg, about)[0], heading: pose.heading + deg });
    this.form.setCorners(shape, turned(corners, deg, about));
  }

  addCorner(chosen) {
    const corners = this.form.corners(chosen.shape);
    if (!corners || corners.length >= 64) return null;
    const i = chosen.corner ?? corners.length - 1, a = corners[i], b = corners[(i + 1) % corners.length];
    corners.splice(i + 1, 0, { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 });
    this.form.setCorners(chosen.shape, corners);
    return i + 1;
  }

  removeCorner(chosen) {
    const texts = this.form.texts(chosen.shape);
    if (texts.length <= 3 || chosen.corner === null) return false;
    texts.splice(chosen.corner, 1);
    this.form.setRows(chosen.shape, texts);
    return true;
  }

  addShape(layer, tier) {
    const { width, depth } = this.form.table || { width: 1000, depth: 1000 };
    const w = (mm) => writeLength(mm, this.form.unit);
    const texts = [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([a, b]) => [w(width / 2 + a * 100), w(depth / 2 + b * 75)]);
    return this.form.addShape(layer, tier, texts);
  }

  copyShapes(into, from) {
    for (const el of this.form.shapesOf(into)) el.remove();
    for (const el of this.form.shapesOf(from)) {
      const { shape, layer } = el.dataset;
      this.form.addShape(layer, into, this.form.texts(shape), this.form.box(`${shape}-name`).value);
    }
  }

  /** Where the selected is, for the live region. */
  say(chosen) {
    const unit = this.form.unit;
    const at = (p) => inPageLanguage("{along} along, {away} away", { along: sayLength(p.x, unit), away: sayLength(p.y, unit) });
    if (this.isPose(chosen.shape)) {
      const pose = this.form.pose(chosen.shape);
      if (!pose) return "";
      const where = { place: at(pose), degrees: inOwnDigits(Math.round(pose.heading * 10) / 10) };
      return chosen.shape === "start" ? inPageLanguage("Start: {place}, heading {degrees}°", where) : inPageLanguage("Contact: {place}, heading {degrees}°", where);
    }
    const holder = chosen.shape && this.form.holder(chosen.shape);
    if (!holder) return "";
    const name = this.form.nameOf(holder), corners = this.form.corners(chosen.shape);
    if (!corners) return inPageLanguage("{name}: a number cannot be read yet", { name });
    const about = { name, count: corners.length };
    if (chosen.corner !== null) {
      return inPageLanguage("{name}, corner {number} of {count}: {place}", { ...about, number: chosen.corner + 1, place: at(corners[chosen.corner]) });
    }
    return inPageLanguage("{name}, {count} corners, middle {place}", { ...about, place: at(middle(corners)) });
  }
}
