// Measuring, entry as you go: what was typed survives a reload, and what the runs say so far follows along.

import { team } from "./tablet.js";

const form = document.getElementById("measure");
const says = document.getElementById("says");
const key = `helmroom-measure-${team}-${form.dataset.keep}`;
const fields = () => [...form.querySelectorAll("input:not([type=hidden]), select")];
let timer = 0;
let asked = 0;

function keep() {
  localStorage.setItem(key, JSON.stringify(Object.fromEntries(fields().map((field) => [field.name, field.value]))));
}

function restore() {
  const kept = JSON.parse(localStorage.getItem(key) || "null");
  if (!kept || fields().some((field) => field.value && field.name.startsWith("run-") && field.tagName === "INPUT")) return;
  for (const field of fields()) if (kept[field.name]) field.value = kept[field.name];
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
  if (event.submitter?.value === "keep") localStorage.removeItem(key);
});
restore();
