// Regions that refresh themselves: <section data-live data-etag='"…"' hx-get=… hx-trigger="every 2s, refresh">.
// While nothing has changed the server answers 304 and nothing moves. A reader can pause it; hidden pages rest.

const isLive = (element) => element instanceof Element && element.hasAttribute("data-live");
const isPoll = (event) => !event.detail.requestConfig?.triggeringEvent;
let paused = false;
let openDetails = [];

document.addEventListener("htmx:beforeRequest", (event) => {
  if (isLive(event.detail.elt) && isPoll(event) && (paused || document.hidden)) event.preventDefault();
});

document.addEventListener("htmx:configRequest", (event) => {
  const { elt, headers } = event.detail;
  if (isLive(elt) && elt.dataset.etag) headers["If-None-Match"] = elt.dataset.etag;
});

document.addEventListener("htmx:beforeSwap", (event) => {
  if (event.detail.xhr.status === 304) {
    event.detail.shouldSwap = false;
    return;
  }
  openDetails = [...document.querySelectorAll("[data-live] details[open][id]")].map((one) => one.id);
});
document.addEventListener("htmx:afterSwap", () => {
  for (const id of openDetails) document.getElementById(id)?.setAttribute("open", "");
});

document.addEventListener("htmx:afterRequest", (event) => {
  if (!isLive(event.detail.elt)) return;
  const status = event.detail.xhr?.status;
  if (status === 304 || event.detail.successful) sayWhen();
});

function sayWhen() {
  delete document.body.dataset.link;
  const now = new Date();
  for (const place of document.querySelectorAll("[data-live-when]")) {
    place.dateTime = now.toISOString();
    place.textContent = now.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", second: "2-digit" });
  }
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-live-pause]");
  if (!button) return;
  paused = !paused;
  document.body.dataset.livePaused = paused ? "yes" : "no";
  for (const one of document.querySelectorAll("[data-live-pause]")) {
    one.setAttribute("aria-pressed", String(paused));
    one.textContent = paused ? one.dataset.goOn : one.dataset.pause;
  }
  if (!paused) refresh();
});
document.addEventListener("visibilitychange", () => { if (!document.hidden && !paused) refresh(); });

export function refresh() {
  for (const region of document.querySelectorAll("[data-live]")) region.dispatchEvent(new Event("refresh"));
}

document.addEventListener("DOMContentLoaded", sayWhen);
if (document.readyState !== "loading") sayWhen();
