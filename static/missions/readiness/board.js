// The board and the evidence page: decisions in a dialogue, moving about with the arrow keys.
// Without this file every decision is a page of its own.
import { refresh } from "../../site/live.js";

const dialogue = document.getElementById("decision");
let opener = null;

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-dialogue]");
  if (button) opener = button.id;
  if (event.target.closest("#decision [data-close]")) {
    event.preventDefault();
    dialogue.close();
  }
});

// The clock of a new club: the city of this browser is offered first.
const clock = document.querySelector("[data-zone]");
const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
if (clock && [...clock.options].some((one) => one.value === here)) clock.value = here;

// A line opens where it stands: the board is asked for anew with this row open, and from then on refreshes so.
document.addEventListener("click", (event) => {
  const line = event.target.closest("[data-toggle-row]");
  if (!line || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  history.replaceState(history.state, "", line.href);
  window.htmx.ajax("GET", line.href, { target: "#board", swap: "outerHTML", select: "#board" });
});
document.addEventListener("keydown", (event) => {
  const line = event.target.closest?.("[data-toggle-row]");
  if (line && event.key === " ") { event.preventDefault(); line.click(); }
});

// The decision has come in: show it. Its first field gets the focus.
document.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.target !== dialogue && !dialogue?.contains(event.detail.target)) return;
  if (!dialogue.open) dialogue.showModal();
  (dialogue.querySelector("[role=alert]") ?? dialogue.querySelector("textarea, button"))?.focus();
});

dialogue?.addEventListener("close", () => {
  dialogue.replaceChildren();
  if (opener) document.getElementById(opener)?.focus();
});

// Decided: say so, show it at once, and go back to the place it was about.
document.body.addEventListener("decided", (event) => {
  const { words, focus } = event.detail;
  dialogue.close();
  const said = document.createElement("p");
  said.className = "notice success";
  said.textContent = words;
  document.getElementById("messages")?.replaceChildren(said);
  document.addEventListener("htmx:afterSettle", () => {
    (document.getElementById(focus) ?? document.getElementById(opener ?? "") ?? document.getElementById("main"))?.focus();
  }, { once: true });
  refresh();
});

// Arrow keys go from cell to cell; Home and End to the ends of a row.
const steps = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] };

document.addEventListener("keydown", (event) => {
  const cell = event.target.closest?.("[data-cell]");
  if (!cell || event.altKey || event.ctrlKey || event.metaKey) return;
  const next = neighbour(cell, event.key);
  if (!next) return;
  event.preventDefault();
  next.focus();
});

function neighbour(cell, key) {
  const cellsOf = (row) => [...row.querySelectorAll("td")].map((td) => td.querySelector("[data-cell]"));
  const rows = [...document.querySelectorAll(".board-table tbody tr:not(.whys)")].map(cellsOf);
  const y = rows.findIndex((row) => row.includes(cell));
  if (y < 0) return null;
  if (key === "Home") return rows[y].find(Boolean);
  if (key === "End") return rows[y].findLast(Boolean);
  if (!(key in steps)) return null;
  const [dy, dx] = steps[key];
  for (let r = y + dy, c = rows[y].indexOf(cell) + dx; rows[r] && c >= 0 && c < rows[r].length; r += dy, c += dx) {
    if (rows[r][c]) return rows[r][c];
  }
  return null;
}
