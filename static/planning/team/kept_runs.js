// The runs that are still only on this tablet, as two lists: those that wait, and those that the server could not take.
// Each can be put right or taken back from here. The first of them are shown: a queue of thousands may come back refused.

import * as queue from "../../site/queue.js";
import { say } from "../../site/recall.js";
import { heldUp, onShown, sender, show, team } from "../../site/tablet.js";

const SHOWN = 20;
// Nothing that a team changes in such a run would help.
const NOT_ITS_WORDS = ["tier_not_open", "not_an_item", "no_such_run", "already_withdrawn", "taken_out"];

function element(tag, text, more = {}) {
  return Object.assign(document.createElement(tag), { textContent: text }, more);
}

function button(words, act, more = {}) {
  const made = element("button", words, { type: "button", ...more });
  made.addEventListener("click", act);
  return made;
}

function named(record) {
  const when = new Date(record.item?.made_at ?? NaN);
  const time = Number.isNaN(when.valueOf()) ? "" : when.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  const duration = record.item?.duration;
  const values = { number: record.number, time, duration };
  if (record.number) {
    if (!time) return duration ? say("Run {number}, {duration} s.", values) : say("Run {number}.", values);
    return duration ? say("Run {number} of {time}, {duration} s.", values) : say("Run {number} of {time}.", values);
  }
  if (!time) return duration ? say("A run, {duration} s.", values) : say("A run.");
  return duration ? say("A run of {time}, {duration} s.", values) : say("A run of {time}.", values);
}

// What waits, each run once: a change of a run that waits too stands for it, a run that is being taken back is told so.
function runsOf(records) {
  const lines = new Map();
  for (const record of records) {
    const { do: act, of } = record.item ?? {};
    const before = lines.get(of);
    if (before) lines.delete(of);
    lines.set(record.uuid, { record: { ...record, number: record.number ?? before?.record.number }, gone: act === "withdraw" });
  }
  return [...lines.values()];
}

export class KeptRuns {
  // ``putRight(record)`` and ``takeBack(record)`` are the page's.
  constructor({ putRight, takeBack }) {
    Object.assign(this, { putRight, takeBack, drawing: null, once: false, filled: new Map() });
    onShown(() => this.draw());
    this.draw();
    const wanted = new URLSearchParams(location.hash.slice(1)).get("right");
    if (wanted) this.find(wanted).then((record) => { if (record) putRight(record); });
  }

  async find(uuid) {
    return [...await queue.waiting(team), ...await queue.refused(team)].find((record) => record.uuid === uuid);
  }

  // One drawing at a time.
  draw() {
    if (this.drawing) this.once = true;
    this.drawing ??= this.drawBoth().finally(() => {
      this.drawing = null;
      const more = this.once;
      this.once = false;
      return more ? this.draw() : undefined;
    });
    return this.drawing;
  }

  async drawBoth() {
    const refused = await queue.refused(team, SHOWN);
    const waiting = heldUp() || queue.onlyHere() ? await queue.waiting(team, 4 * SHOWN) : [];
    const counts = await queue.counts(team);
    this.fill("not-saved", say("Not saved yet"), say("The club's computer could not take these. They stay on this tablet. Put them right, or show them to your coach."), refused, (record) => this.refusedLine(record), counts.refused - refused.length, "more-refused");
    const lines = runsOf(waiting);
    this.fill("waiting-runs", say("On this tablet, not sent yet"), say("They are sent by themselves. Until then you can put them right."), lines.slice(0, SHOWN), (line) => this.waitingLine(line), lines.length - SHOWN, "more-waiting");
  }

  // Nothing is drawn anew that has not changed: a button that is put in the place of another between a finger's going down
  // and its coming up hears no press.
  fill(id, heading, words, kept, lineOf, more, moreId) {
    const now = JSON.stringify([kept, more]);
    if (this.filled.get(id) === now) return;
    this.filled.set(id, now);
    const place = document.getElementById(id), lines = kept.map(lineOf);
    place.hidden = !lines.length;
    const list = element("ul", "", { className: "kept-runs" });
    list.append(...lines);
    const focused = place.contains(document.activeElement) ? document.activeElement.textContent : null;
    place.replaceChildren(...(lines.length ? [element("h2", heading), element("p", words, { className: "soft" }), list] : []));
    if (more > 0) place.append(element("p", say("And {more} more.", { more }), { id: moreId }));
    if (focused) [...place.querySelectorAll("button")].find((each) => each.textContent === focused)?.focus();
  }

  waitingLine({ record, gone }) {
    const line = element("li", "");
    line.append(element("b", named(record)));
    if (gone) line.append(" ", say("It is taken back."));
    else line.append(this.row(this.rightButton(record), button(record.number ? say("Take run {number} back", record) : say("Take this run back"), () => this.takeBack(record))));
    return line;
  }

  refusedLine(record) {
    const line = element("li", "");
    const drop = button(say("Throw it away"), async () => {
      if (drop.dataset.sure) { await queue.done(record); await show(); return; }
      drop.dataset.sure = "yes";
      drop.textContent = say("Sure? Throw it away");
    }, { className: "danger" });
    const retry = button(say("Send it again"), async () => { await queue.again(record, record.item); await show(); sender.wake(); });
    const right = record.item?.tier && !NOT_ITS_WORDS.includes(record.code) ? [this.rightButton(record)] : [];
    line.append(element("b", `${named(record)} `), element("span", record.words), this.row(...right, retry, drop));
    return line;
  }

  // The questions are those of the run's own tier: on the page of another one they would not fit.
  rightButton(record) {
    const own = document.getElementById("run-form").elements.tier.value;
    return button(record.number ? say("Put run {number} right", record) : say("Put this run right"), () => {
      if (String(record.item.tier) === own) this.putRight(record);
      else location.assign(`${location.pathname}?tier=${record.item.tier}#right=${record.uuid}`);
    });
  }

  row(...buttons) {
    const row = element("div", "", { className: "row" });
    row.append(...buttons);
    return row;
  }
}
