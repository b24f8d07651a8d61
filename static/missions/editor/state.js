// Undo, and whether the form is saved.

import { say as inPageLanguage } from "../../site/recall.js";

const MOST = 200;

// A state is {drawing, whole}: what undo puts back by itself, and the whole form for when tiers came or went between.
export class History {
  constructor(first) {
    this.states = [first];
    this.at = 0;
  }

  get canUndo() { return this.at > 0; }
  get canRedo() { return this.at < this.states.length - 1; }

  keep(state) {
    if (state.drawing === this.states[this.at].drawing) { this.states[this.at] = state; return; }
    this.states.splice(this.at + 1, Infinity, state);
    if (this.states.length > MOST) this.states.shift();
    this.at = this.states.length - 1;
  }

  undo() { return this.canUndo ? this.states[(this.at -= 1)] : null; }
  redo() { return this.canRedo ? this.states[(this.at += 1)] : null; }
}

const NOT_SAVED = `<span class="chip help" data-state="unsaved">● ${inPageLanguage("Not saved yet")}</span>`;
const SCROLL_KEY = "editor-scroll";

/** Says "Not saved yet" from the first change on, and asks before a page with changes is left. */
export class State {
  constructor() {
    this.changes = 0;
    this.sent = 0;
    this.leaving = false;
    addEventListener("beforeunload", (event) => { if (!this.leaving && this.unsaved) event.preventDefault(); });
    document.addEventListener("submit", (event) => this.submitted(event));
    document.addEventListener("click", (event) => { if (event.target.closest("[data-discard]")) this.leaving = true; });
    document.addEventListener("htmx:beforeRequest", (event) => { if (event.target.closest("[data-save], #state")) this.sent = this.changes; });
    document.addEventListener("htmx:afterSettle", () => { if (this.changes !== this.sent) this.show(); });
    const back = sessionStorage.getItem(SCROLL_KEY);
    sessionStorage.removeItem(SCROLL_KEY);
    if (back !== null) scrollTo(0, Number(back));
  }

  get words() { return document.getElementById("saved-words"); }
  get unsaved() { return this.words.querySelector("[data-state]")?.dataset.state === "unsaved"; }

  touch() {
    this.changes += 1;
    this.show();
  }

  show() { if (!this.unsaved) this.words.innerHTML = NOT_SAVED; }

  submitted(event) {
    const ask = event.target.dataset.ask;
    if (ask && !confirm(ask)) { event.preventDefault(); return; }
    if (event.target.id === "editor") {
      this.leaving = true;
      sessionStorage.setItem(SCROLL_KEY, String(scrollY));
    }
  }
}
