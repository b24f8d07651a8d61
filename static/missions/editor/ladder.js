// Tiers come, go and move by the form's own server, without the page being loaded anew.

import { say as inPageLanguage } from "../../site/recall.js";

export class Ladder {
  constructor(form) {
    this.form = form;
    this.pks = new Map();
  }

  /** One of the form's steps on the ladder; what happened in words, null when there was no answer. */
  async take(step) {
    const was = this.form.tiers;
    const words = await this.ask(this.form.whole(), step);
    for (const key of this.form.tiers) if (!was.includes(key)) this.pks.delete(`${key}-pk`); // another tier under an old key
    return words;
  }

  /** The ladder as it was in another state of the form. */
  async become(whole) {
    const words = await this.ask(whole, "redraw");
    this.putPks();
    return words;
  }

  async ask(whole, step) {
    const body = new URLSearchParams(whole);
    body.set("do", step);
    this.notePks();
    let page;
    try {
      const response = await fetch(this.form.element.action, { method: "POST", body, credentials: "same-origin", redirect: "manual" });
      page = new DOMParser().parseFromString(await response.text(), "text/html");
    } catch {
      page = null;
    }
    const fresh = page?.getElementById("ladder"), tabs = page?.querySelector(".tier-tabs");
    if (!fresh || !tabs) {
      document.getElementById("map-says").textContent = inPageLanguage("There was no answer from the server. Nothing is changed; try again.");
      return null;
    }
    document.getElementById("ladder").replaceWith(fresh);
    document.querySelector(".tier-tabs").replaceWith(tabs);
    return page.querySelector("#state .notice")?.textContent.trim() ?? "";
  }

  /** What a tier is on record stays known, also over an undo to before it was saved. */
  notePks() {
    for (const box of this.form.element.querySelectorAll('section.tier > input[name$="-pk"]')) if (box.value) this.pks.set(box.name, box.value);
  }

  putPks() {
    for (const [name, value] of this.pks) { const box = this.form.box(name); if (box && !box.value) box.value = value; }
  }

  /** Of the moved tier: the same button, else the one that is left at an end of the ladder. */
  moveButton(value) {
    const [verb, key] = value.split(" ");
    return this.form.element.querySelector(`button[value="${value}"]`) ?? this.form.element.querySelector(`button[value^="${verb} ${key} "]`);
  }
}
