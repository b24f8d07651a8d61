// Where the robot met the target: by a tap on the drawing, by steps, or by typing. All three write the same four fields.

import { inOwnDigits, say } from "../../site/recall.js";

const number = (text) => {
  const value = Number.parseFloat(String(text).replace(",", "."));
  return Number.isFinite(value) ? value : null;
};
const tidy = (value) => String(Math.round(value * 100) / 100);

export class Pad {
  constructor(root, { unit, mm, prefix = "" }) {
    Object.assign(this, { root, unit, mm, past: [] });
    const part = (id) => root.querySelector(`#${prefix}${id}`);
    this.map = part("pad");
    this.dot = part("pad-dot");
    this.words = part("pad-words");
    this.undo = part("pad-clear");
    this.fields = Object.fromEntries(["sideways", "side", "along", "way"].map((id) => [id, part(id)]));
    this.step = unit === "mm" ? 10 : unit === "in" ? 0.5 : 1;
    this.undo.hidden = false;
    this.undo.addEventListener("click", () => this.takeBack());
    this.map.addEventListener("click", (event) => this.tap(event));
    for (const button of root.querySelectorAll("[data-move]")) {
      button.hidden = false;
      button.addEventListener("click", () => this.move(button.dataset.move));
    }
    for (const field of Object.values(this.fields)) field.addEventListener("input", () => this.draw());
    for (const choice of root.querySelectorAll('[name="at_target"]')) {
      choice.addEventListener("change", () => this.measuredAt(choice.dataset));
    }
    this.draw();
  }

  // Of several targets: the window of the one where it was measured, and its name in the words beside.
  measuredAt({ name, half, up, down, words }) {
    const window = this.map.querySelector(".pad-window");
    for (const [key, value] of Object.entries({ x: -half, y: -up, width: 2 * half, height: Number(up) + Number(down) })) window.setAttribute(key, value);
    for (const place of document.querySelectorAll("[data-pad-target]")) place.textContent = name;
    this.root.querySelector("[data-pad-window]").textContent = words;
    for (const ring of this.map.querySelectorAll(".pad-earlier")) ring.setAttribute("visibility", "hidden");
  }

  // In the club's unit: left and far are positive; null where nothing is known.
  get place() {
    const { sideways, side, along, way } = this.fields;
    const left = number(sideways.value);
    const far = number(along.value);
    return {
      left: left === null ? null : side.value === "right" ? -left : left,
      far: far === null ? null : way.value === "short" ? -far : far,
    };
  }

  put({ left, far }) {
    const { sideways, side, along, way } = this.fields;
    sideways.value = left === null ? "" : tidy(Math.abs(left));
    if (left !== null) side.value = left < 0 ? "right" : "left";
    along.value = far === null ? "" : tidy(Math.abs(far));
    if (far !== null) way.value = far > 0 ? "far" : "short";
    this.draw();
  }

  change(place) {
    this.past.push(this.place);
    this.put(place);
  }

  takeBack() {
    if (this.past.length) this.put(this.past.pop());
    else this.put({ left: null, far: null });
  }

  clear() {
    this.past = [];
    this.put({ left: null, far: null });
  }

  tap(event) {
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.map.getScreenCTM().inverse());
    const snap = (mm) => Math.round(mm / this.mm / (this.step / 2)) * (this.step / 2);
    this.change({ left: snap(-point.x), far: snap(-point.y) });
  }

  move(way) {
    const { left, far } = this.place;
    if (way === "left" || way === "right") this.change({ left: (left ?? 0) + (way === "left" ? this.step : -this.step), far });
    else this.change({ left, far: (far ?? 0) + (way === "far" ? this.step : -this.step) });
  }

  draw() {
    const { left, far } = this.place;
    const known = left !== null || far !== null;
    this.dot.setAttribute("visibility", known ? "visible" : "hidden");
    const inside = (value, low, high) => Math.max(low, Math.min(high, value));
    const { half, up, down } = this.map.dataset;
    this.dot.setAttribute("cx", inside(-(left ?? 0) * this.mm, -half, half));
    this.dot.setAttribute("cy", inside(-(far ?? 0) * this.mm, -up, down));
    this.undo.disabled = !known && !this.past.length;
    this.words.textContent = known ? this.inWords(left, far) : "";
  }

  inWords(left, far) {
    const parts = [];
    const size = (value) => ({ size: `${inOwnDigits(tidy(Math.abs(value)))} ${this.unit}` });
    if (left === 0) parts.push(say("in the middle"));
    else if (left !== null) parts.push(left > 0 ? say("{size} to the left", size(left)) : say("{size} to the right", size(left)));
    if (far) parts.push(far > 0 ? say("{size} too far", size(far)) : say("{size} too short", size(far)));
    return parts.join(", ");
  }
}
