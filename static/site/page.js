// Small behaviours every page has. No library; htmx does the swapping.

import { say as inPageLanguage } from "./recall.js";

// Keep the focus where it was when a fragment replaces itself: on the same thing, else on what holds it, else on its part's heading.
// A button that is off while its answer is awaited has no focus by then; nor has what one of two answers has just taken away.
let places = [];
function keepPlace() { if (document.activeElement !== document.body) places = placesOf(document.activeElement); }
document.addEventListener("pointerdown", () => { places = []; }, true);
document.addEventListener("htmx:beforeRequest", (event) => { if (event.detail.elt.contains(document.activeElement)) keepPlace(); });
document.addEventListener("htmx:beforeSwap", keepPlace);
document.addEventListener("htmx:afterSettle", () => {
  for (const find of places) {
    if (document.activeElement !== document.body) return;
    const there = find();
    if (!there) continue;
    if (there.tabIndex < 0) there.tabIndex = -1;
    there.focus({ preventScroll: true });
  }
});

const addressOf = (one) => one.getAttribute("href") ?? one.getAttribute("formaction") ?? one.form?.getAttribute("action");

function placesOf(one) {
  const { id, name, value } = one, to = addressOf(one);
  const holder = one.closest("details[id]")?.id, heading = one.closest("section[aria-labelledby]")?.getAttribute("aria-labelledby");
  const same = (other) => other.tagName === one.tagName && other.name === name && other.value === value && addressOf(other) === to;
  return [
    () => id && document.getElementById(id),
    () => to && [...document.querySelectorAll("main a[href], main button")].find(same),
    () => holder && document.querySelector(`#${CSS.escape(holder)} > summary`),
    () => heading && document.getElementById(heading),
    () => document.getElementById("main"),
  ];
}

// A press that is refused or not answered is said to whoever pressed; the page keeps what it shows.
const NO_ANSWER = inPageLanguage("There was no answer from the server, so nothing was changed that this page knows of. Try again.");

function wordsOf(response) {
  const main = new DOMParser().parseFromString(response, "text/html").querySelector("main");
  const words = [...(main?.querySelectorAll("h1, h1 ~ p") ?? [])].filter((one) => !one.querySelector("a"));
  return words.map((one) => one.textContent.trim().replace(/([^.!?])$/, "$1.")).join(" ");
}

function say(words) {
  const notice = document.createElement("p");
  notice.className = "notice error refused";
  notice.setAttribute("role", "alert");
  document.querySelector("#messages .refused")?.remove();
  document.getElementById("messages")?.append(notice);
  notice.textContent = words; // set once it stands in the page, so that it is read out
}

for (const name of ["htmx:sendError", "htmx:responseError", "htmx:timeout"]) {
  document.addEventListener(name, (event) => {
    const { xhr, requestConfig } = event.detail;
    if (xhr?.status === 304) return;
    document.body.dataset.link = "lost";
    if (!requestConfig?.triggeringEvent?.isTrusted) return; // a poll: the page itself says how old it is
    say(xhr?.status ? wordsOf(xhr.responseText) || inPageLanguage("That did not work. Load the page again, then try once more.") : NO_ANSWER);
  });
}
document.addEventListener("htmx:afterOnLoad", (event) => { // heard after a refusal too
  if (event.detail.xhr.status >= 400) return;
  delete document.body.dataset.link;
  if (event.detail.requestConfig?.triggeringEvent?.isTrusted) document.querySelector("#messages .refused")?.remove();
});

// A button pressed twice sends once. Another button of the form is another wish: a page stays where it is while a file is saved.
const sent = new WeakMap();
document.addEventListener("submit", (event) => {
  if (event.defaultPrevented) return; // a page's own script sees to it
  const { target: form, submitter } = event;
  if (sent.has(form) && sent.get(form) === submitter) { event.preventDefault(); return; }
  if (!form.hasAttribute("hx-post")) {
    sent.set(form, submitter);
    setTimeout(() => { if (sent.get(form) === submitter) sent.delete(form); }, 4000);
  }
});

// Printing is asked for by a button, since nothing is inline.
document.addEventListener("click", (event) => {
  if (event.target.closest("[data-print]")) window.print();
});
