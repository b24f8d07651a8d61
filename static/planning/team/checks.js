// What the server would refuse of a run is said before the run is kept, so that nothing kept is refused later. The rules
// are those of missions/runs/forms.py; a test sends the same words through both.

import { say } from "../../site/recall.js";

const LONGEST_RUN_S = 3600;
const FARTHEST_MM = 5000;
const WIDEST_DEG = 180;
const MM = { mm: 1, cm: 10, m: 1000, in: 25.4, inch: 25.4, inches: 25.4, '"': 25.4, "″": 25.4, ft: 304.8 };
const NUMBER = String.raw`\d+(?:\.\d*)?|\.\d+`;
const LENGTH = new RegExp(String.raw`^[+-]?\s*(?:(\d+)\s+(\d+)/(\d+)|(\d+)/(\d+)|(${NUMBER}))\s*([a-z"″]*)\.?$`);
const ANGLE = new RegExp(String.raw`^[+-]?\s*(${NUMBER})\s*(?:deg|degree|degrees|°)?$`);
const CLOCK = /^(?:(\d{1,2}):)?(\d{1,4}(?:[.,]\d{1,3})?)$/;

// A decimal comma as a point; null where it may mark thousands.
function tidy(text) {
  const plain = text.trim().toLowerCase().replaceAll("−", "-").replace(/[\u00a0\u202f]/g, " ");
  const [before, after, more] = plain.split(",");
  if (after === undefined) return plain;
  const thousands = /^\d*/.exec(after)[0].length === 3 && !["", "0"].includes(before.replace(/^[+-]+/, ""));
  return more !== undefined || plain.includes(".") || thousands ? null : `${before}.${after}`;
}

export function durationOf(text) {
  const match = CLOCK.exec(text.trim());
  return match ? Number(match[1] ?? 0) * 60 + Number(match[2].replace(",", ".")) : null;
}

export function lengthOf(text, unit) {
  const match = LENGTH.exec(tidy(text) ?? "?");
  const mm = match && MM[match[7] || unit];
  if (!mm) return null;
  const over = match[1] ? Number(match[1]) + Number(match[2]) / Number(match[3]) : Number(match[4]) / Number(match[5]);
  const value = (match[6] === undefined ? over : Number(match[6])) * mm;
  return Number.isFinite(value) ? value : null;
}

export function angleOf(text) {
  const match = ANGLE.exec(tidy(text) ?? "?");
  return match ? Number(match[1]) : null;
}

function wrongTime(text) {
  const seconds = durationOf(text);
  if (seconds === null) return say("Write the time as seconds, such as 41.2, or minutes and seconds: 1:12.4.");
  return seconds > 0 && seconds <= LONGEST_RUN_S ? "" : say("A run takes more than 0 seconds and at most an hour.");
}

function wrongLength(text, unit) {
  const mm = lengthOf(text, unit);
  if (mm === null) return say("Write a number, such as 4, or with its unit: 4 {unit}.", { unit });
  return mm <= FARTHEST_MM ? "" : say("That is more than 5 m away. Measure again.");
}

function wrongAngle(text) {
  const deg = angleOf(text);
  if (deg === null) return say("Write degrees, such as 7.");
  return deg <= WIDEST_DEG ? "" : say("A robot turns at most half way round: 180°. Measure again.");
}

// The first thing that is wrong: its field, and words that say what to do. Null when all is well.
export function firstWrong(form) {
  const { unit, limit } = form.dataset;
  const looks = { duration: wrongTime, angle: wrongAngle };
  for (const field of form.querySelectorAll("[data-check]")) {
    const text = field.value.trim();
    const words = text && (looks[field.dataset.check] ?? wrongLength)(text, unit);
    if (words) return { field, words };
  }
  const clean = [...form.querySelectorAll(".ask input[value=yes]")].every((radio) => radio.checked);
  const duration = form.elements.duration;
  if (limit && clean && !duration.value.trim()) return { field: duration, words: say("This tier is against the clock. Enter the time of the run.") };
  return null;
}

export function tell({ field, words }) {
  forgetWrong(field.form);
  const said = Object.assign(document.createElement("p"), { className: "wrong", id: "wrong-words" });
  said.setAttribute("role", "alert");
  (field.closest(".miss, .miss-angle") ?? field).after(said);
  said.textContent = words;
  field.setAttribute("aria-invalid", "true");
  field.closest("details")?.setAttribute("open", "");
  field.focus();
}

export function forgetWrong(form) {
  document.getElementById("wrong-words")?.remove();
  for (const field of form.querySelectorAll("[aria-invalid]")) field.removeAttribute("aria-invalid");
}
