// The clocks of the present part and turn, counted here between refreshes. It is not announced: it would never be silent.

import { say } from "../../site/recall.js";

function left(seconds) {
  const whole = Math.max(0, Math.ceil(seconds));
  const hours = Math.floor(whole / 3600), minutes = Math.floor(whole / 60) % 60, rest = String(whole % 60).padStart(2, "0");
  return hours ? say("{hours} h {minutes} min", { hours, minutes }) : `${minutes}:${rest}`;
}

function tick() {
  document.querySelectorAll("[data-until]").forEach(count);
  const bar = document.querySelector("[data-turn-progress]");
  const turn = bar?.previousElementSibling;
  if (turn?.dataset.from) {
    const from = Date.parse(turn.dataset.from), until = Date.parse(turn.dataset.until);
    bar.value = Math.min(100, Math.max(0, (100 * (Date.now() - from)) / (until - from)));
  }
}

function count(shown) {
  const until = Date.parse(shown.dataset.until), now = Date.now();
  if (until - now > 24 * 3600 * 1000) { shown.textContent = ""; return; }
  shown.innerHTML = "";
  const number = document.createElement("b");
  number.textContent = left((until - now) / 1000);
  const words = shown.dataset.from ? say("{time} left", { time: "\0" }) : say("{time} to go", { time: "\0" });
  const [before, after] = words.split("\0");
  shown.append(before, number, after);
}

tick();
setInterval(tick, 1000);
document.addEventListener("htmx:afterSwap", tick);

// A note that was kept leaves its field empty for the next one.
document.addEventListener("htmx:afterRequest", (event) => {
  if (event.detail.successful && event.detail.elt.matches?.("[data-clear]")) event.detail.elt.reset();
});
