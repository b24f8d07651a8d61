// A stopwatch over a text field: the field can be typed into as well. The start is a moment on the clock kept in
// sessionStorage, so that a reload or a closed lid does not stop it.

import { forget, inOwnDigits, recall, remember, say } from "../../site/recall.js";

const KEY = "helmroom-clock-started";

export function inWords(seconds) {
  const tenths = Math.round(seconds * 10) / 10;
  if (tenths < 60) return inOwnDigits(tenths.toFixed(1));
  return inOwnDigits(`${Math.floor(tenths / 60)}:${(tenths % 60).toFixed(1).padStart(4, "0")}`);
}

export class Stopwatch {
  constructor({ field, button, undo, place }) {
    Object.assign(this, { field, button, undo, place, before: null, startedAt: null, frame: 0 });
    place.hidden = false;
    button.addEventListener("click", () => (this.startedAt ? this.stop() : this.start(Date.now())));
    undo.addEventListener("click", () => this.takeBack());
    field.addEventListener("input", () => { this.before = null; this.label(); });
    const kept = Number(recall(KEY, "sessionStorage"));
    if (kept) this.start(kept);
    this.label();
  }

  start(at) {
    this.before = { value: this.field.value, startedAt: null };
    this.startedAt = at;
    remember(KEY, at, "sessionStorage");
    this.field.readOnly = true;
    this.label();
    const tick = () => {
      if (!this.startedAt) return;
      this.field.value = inWords((Date.now() - this.startedAt) / 1000);
      this.frame = setTimeout(tick, 100);
    };
    tick();
  }

  stop() {
    this.field.value = inWords((Date.now() - this.startedAt) / 1000);
    this.before = { startedAt: this.startedAt };
    this.rest();
  }

  rest() {
    clearTimeout(this.frame);
    this.startedAt = null;
    forget(KEY, "sessionStorage");
    this.field.readOnly = false;
    this.label();
  }

  // Undo of the last tap: a stop carries on as if it had not been, a start is forgotten; after that, the field clears.
  takeBack() {
    const before = this.before;
    this.before = null;
    if (this.startedAt) {
      this.rest();
      this.field.value = before?.value ?? "";
    } else if (before?.startedAt) {
      this.start(before.startedAt);
      return;
    } else {
      this.field.value = "";
    }
    this.label();
  }

  clear() {
    this.before = null;
    this.rest();
    this.field.value = "";
    this.label();
  }

  label() {
    this.button.textContent = this.startedAt ? say("Stop") : say("Start");
    this.undo.textContent = this.startedAt ? say("Not yet: start again") : this.before?.startedAt ? say("Undo: let it run on") : say("Clear");
    this.undo.disabled = !this.startedAt && !this.before && !this.field.value;
  }
}
