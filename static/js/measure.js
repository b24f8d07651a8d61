// Measuring, entry as you go: what was typed survives a reload, and what the runs say so far follows along.

import { team } from "./tablet.js";

const form = document.getElementById("measure");
const says = document.getElementById("says");
const key = `helmroom-measure-${team}-${form.dataset.keep}`;
const { newest } = form.dataset;
const fields = () => [...form.querySelectorAll("input:not([type=hidden]), select")];
let timer = 0;
let asked = 0;

function keep(sent = false) {
  const typed = Object.fromEntries(fields().map((field) => [field.name, field.value]));
  localStorage.setItem(key, JSON.stringify({ typed, newest, sent }));
}

// What was sent may be kept or lost on the way: it goes on until the server has something newer.
function restore() {
  const kept = JSON.parse(localStorage.getItem(key) || "null");
  if (!kept?.typed) return;
  if (kept.sent && kept.newest !== newest) { localStorage.removeItem(key); return; }
  if (fields().some((field) => field.value && field.name.startsWith("run-") && field.tagName === "INPUT")) return;
  addRows(kept.typed);
  for (const field of fields()) if (kept.typed[field.name]) field.value = kept.typed[field.name];
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
    if (!response.ok || mine !== asked) return;
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    if (page.querySelector(".notice") && !says.querySelector(".notice, .result")) return;
    says.replaceChildren(...page.body.childNodes);
  } catch { /* no network: what was typed is kept, and the next change asks again */ }
}

form.addEventListener("input", () => { keep(); clearTimeout(timer); });
form.addEventListener("change", () => { clearTimeout(timer); timer = setTimeout(ask, 250); });
form.addEventListener("submit", (event) => {
  if (event.submitter?.value === "keep") keep(true);
});
restore();
