// Measuring, entry as you go: what was typed survives a reload, and what the runs say so far follows along.

import { forget, recall, remember, say } from "../../site/recall.js";
import { team } from "../../site/tablet.js";

const form = document.getElementById("measure");
const says = document.getElementById("says");
const key = `helmroom-measure-${team}-${form.dataset.keep}`;
const { newest } = form.dataset;
const fields = () => [...form.querySelectorAll("input:not([type=hidden]), select")];
let timer = 0;
let asked = 0;

function keep(sent = false) {
  const typed = Object.fromEntries(fields().map((field) => [field.name, field.value]));
  remember(key, { typed, newest, sent });
}

// What was sent may be kept or lost on the way: it goes on until the server has something newer.
function restore() {
  const kept = recall(key);
  if (!kept?.typed) return;
  if (kept.sent && kept.newest !== newest) { forget(key); return; }
  if (fields().some((field) => field.value && field.name.startsWith("run-") && field.tagName === "INPUT")) return;
  addRows(kept.typed);
  const other = fields().filter((field) => kept.typed[field.name] && field.value !== kept.typed[field.name]);
  if (!other.length) return; // the page answers what was typed, and may ask something: it stays
  for (const field of other) field.value = kept.typed[field.name];
  ask();
}

// The rows that were asked for beyond those of a new sheet.
function addRows(typed) {
  const { rows } = form.elements;
  const last = form.querySelector(".sheet").lastElementChild;
  for (let n = Number(rows?.value); Object.keys(typed).some((name) => name.startsWith(`run-${n}-`)); n += 1) {
    const row = last.cloneNode(true);
    row.querySelector("b").textContent = String(n + 1);
    for (const field of row.querySelectorAll("input, select")) {
      field.name = field.name.replace(/\d+/, String(n));
      field.ariaLabel = field.ariaLabel.replace(/\d+/, String(n + 1));
    }
    last.parentElement.append(row);
    rows.value = String(n + 1);
  }
}

async function ask() {
  const mine = ++asked;
  const data = new FormData(form);
  data.set("do", "try");
  try {
    const response = await fetch(location.href, { method: "POST", body: data, headers: { "X-Part": "yes" } });
    if (mine !== asked) return;
    if (response.redirected || response.status === 403) return lost(say("Load the page again, or sign in again: what you typed is kept on this tablet."));
    if (!response.ok) throw new Error("no answer");
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    says.querySelector("[data-lost]")?.remove();
    // What is not complete yet is not said before anything else was; what is wrong is, at once.
    if (page.querySelector(".notice:not([data-wrong])") && !says.querySelector(".notice, .result")) return;
    says.replaceChildren(...page.body.childNodes);
    mark();
  } catch {
    lost(say("No network: what you typed is kept on this tablet. What it says shows when the network is back."));
  }
  return undefined;
}

// The rows to look at again, by their numbers.
function mark() {
  const rows = (says.querySelector("[data-rows]")?.dataset.rows ?? "").split(" ");
  for (const [i, row] of [...form.querySelector(".sheet").children].entries()) {
    row.classList.toggle("stands-out", rows.includes(String(i + 1)));
    row.querySelector(".chip")?.remove();
  }
}

function lost(words) {
  says.querySelector("[data-lost]")?.remove();
  const notice = Object.assign(document.createElement("p"), { className: "notice warning", textContent: words });
  notice.dataset.lost = "yes";
  says.prepend(notice);
}
addEventListener("online", () => { if (says.querySelector("[data-lost]")) ask(); });

form.addEventListener("input", () => { keep(); clearTimeout(timer); });
form.addEventListener("change", () => { clearTimeout(timer); timer = setTimeout(ask, 250); });
form.addEventListener("submit", (event) => {
  if (event.submitter?.value === "keep") keep(true);
});
restore();
