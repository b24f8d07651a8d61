// A course's draft as plain values, and every change of it as a function from one draft to the next.
// A draft is {start: {x_mm, y_mm, heading_deg}, steps: [{do, n}]}; n counts the robot's own steps.

export const FIRST = { drive: 20, back: -10, left: 45, right: -45, push: 9, wait: 2, lower: 0, raise: 0 };
const MOST = 5000;

const KIND = { back: "drive", left: "turn", right: "turn" };

export function add(draft, at, what, turnStep = 1) {
  const n = KIND[what] === "turn" ? Math.round(FIRST[what] / turnStep) : FIRST[what];
  const steps = [...draft.steps];
  steps.splice(at + 1, 0, { do: KIND[what] ?? what, n });
  return { ...draft, steps };
}

export function set(draft, at, n) {
  const step = draft.steps[at];
  const least = ["push", "wait"].includes(step.do) ? 0 : -MOST;
  const kept = Math.max(least, Math.min(MOST, Math.round(n)));
  return { ...draft, steps: draft.steps.map((each, i) => (i === at ? { ...each, n: kept } : each)) };
}

export function takeOut(draft, at) {
  return { ...draft, steps: draft.steps.filter((_, i) => i !== at) };
}

export function move(draft, at, by) {
  const to = at + by;
  if (to < 0 || to >= draft.steps.length) return draft;
  const steps = [...draft.steps];
  [steps[at], steps[to]] = [steps[to], steps[at]];
  return { ...draft, steps };
}

export function setStart(draft, change) {
  return { ...draft, start: { ...draft.start, ...change } };
}

// Every tap can be taken back, and taken back again.
export class History {
  constructor(first) { this.past = []; this.now = first; this.next = []; }

  go(draft) {
    if (JSON.stringify(draft) === JSON.stringify(this.now)) return;
    this.past.push(this.now);
    if (this.past.length > 200) this.past.shift();
    this.now = draft;
    this.next = [];
  }

  undo() { if (this.past.length) { this.next.push(this.now); this.now = this.past.pop(); } }

  redo() { if (this.next.length) { this.past.push(this.now); this.now = this.next.pop(); } }
}
