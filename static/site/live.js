// Fragments that refresh themselves: they send the tag of what they show, and 304 leaves them as they are.
// A button [data-pause-live] stops and resumes it; [data-live-at] says when the page last asked.

import { HELD_MS, isPoll } from "./polls.js";
import { say } from "./recall.js";

document.addEventListener("htmx:configRequest", (event) => {
  const tag = event.detail.elt.dataset?.live;
  if (tag && event.detail.verb === "get") event.detail.headers["If-None-Match"] = `"${tag}"`;
});

document.addEventListener("htmx:beforeRequest", (event) => {
  if (isPoll(event) && (document.body.dataset.paused || document.hidden)) event.preventDefault();
});

document.addEventListener("htmx:beforeSwap", (event) => {
  if (event.detail.xhr.status === 304) {
    event.detail.shouldSwap = false;
    event.detail.isError = false;
  }
  // Somebody is choosing or typing inside the fragment: the next poll comes soon enough.
  if (isPoll(event) && busy(event.detail.elt)) event.detail.shouldSwap = false;
});

let touched = 0;
for (const name of ["focusin", "input", "change"]) document.addEventListener(name, () => { touched = Date.now(); });

function busy(fragment) {
  const active = document.activeElement;
  const typing = "select, textarea, input:not([type=checkbox]):not([type=radio])";
  return active && active.matches(typing) && fragment.contains(active) && Date.now() - touched < HELD_MS;
}

document.addEventListener("htmx:afterRequest", (event) => {
  const shown = document.querySelector("[data-live-at]");
  if (!shown || !isPoll(event)) return;
  if (event.detail.xhr?.status) {
    const now = new Date();
    const at = now.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", second: "2-digit", hourCycle: "h23" });
    shown.textContent = say("Up to date at {at}", { at });
    shown.classList.remove("stale");
  } else {
    shown.textContent = say("No answer from the server; this may be old");
    shown.classList.add("stale");
  }
});

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-pause-live]");
  if (!button) return;
  const paused = !document.body.dataset.paused;
  if (paused) document.body.dataset.paused = "1"; else delete document.body.dataset.paused;
  button.setAttribute("aria-pressed", String(paused));
  const shown = document.querySelector("[data-live-at]");
  if (shown && paused) shown.textContent = say("Refreshing is paused");
});

// What somebody has folded or unfolded stays so, until what it stands for is another one (data-fold).
let folds = [];
document.addEventListener("htmx:beforeSwap", () => {
  folds = [...document.querySelectorAll("details[id]")].map(({ id, open, dataset }) => ({ id, open, of: dataset.fold }));
});
document.addEventListener("htmx:afterSwap", () => {
  for (const { id, open, of } of folds) {
    const now = document.getElementById(id);
    if (now && now.dataset.fold === of) now.open = open;
    else if (open && now && !now.open) now.querySelector("summary").focus();
  }
});

// Ask at once rather than at the next turn: after a decision, or when the page comes back into view.
export function refresh() {
  for (const region of document.querySelectorAll("[data-live]")) region.dispatchEvent(new Event("refresh"));
}
document.addEventListener("visibilitychange", () => { if (!document.hidden) refresh(); });
