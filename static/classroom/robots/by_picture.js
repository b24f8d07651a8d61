// Runs of a sheet measured by pictures, one after the other, without a new page: what is accepted goes into the next free
// row, to be changed there. Where the robot stood in the first picture is kept in this page alone.

import { send } from "../club/marks/send.js";
import { say } from "../../site/recall.js";

const dialog = document.createElement("dialog");
dialog.className = "picture-dialog";
dialog.setAttribute("aria-label", say("Measure by pictures"));
let opened = "";

function element(tag, text, more = {}) {
  return Object.assign(document.createElement(tag), { textContent: text, ...more });
}

// Opens over the sheet, which stays as it is; again with the first picture that it had. Throws where the page cannot be had.
export async function openPictures(address, sheet) {
  if (opened !== address) {
    const response = await fetch(address, { headers: { "X-Part": "yes" } });
    if (!response.ok || response.redirected) throw new Error("no page");
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    const asks = page.querySelector("#run-picture");
    if (!asks) throw new Error("no page");
    const close = element("button", say("Back to the sheet"), { type: "button" });
    close.addEventListener("click", () => dialog.close());
    dialog.replaceChildren(element("h2", say("Measure by pictures")), asks, close);
    document.body.append(dialog);
    listen(asks, sheet);
    opened = address;
  }
  next(dialog.querySelector("#run-picture"), sheet);
  dialog.showModal();
}

function listen(asks, sheet) {
  const { picture } = asks.elements;
  asks.addEventListener("submit", (event) => { event.preventDefault(); measure(asks, sheet); });
  picture?.addEventListener("change", () => { if (picture.files[0]) measure(asks, sheet); });
}

const field = (sheet, row, column) => sheet.elements[`run-${row}-${column}`];
const filledByPictures = (asks) => asks.dataset.columns.trim().split(" ");

// The first row into which nothing that a picture tells has been written; the one after the last where all are full.
function freeRow(asks, sheet) {
  const columns = filledByPictures(asks);
  const count = Number(sheet.elements.rows.value);
  for (let row = 0; row < count; row += 1) {
    if (columns.every((column) => !field(sheet, row, column)?.value || field(sheet, row, column).tagName === "SELECT")) return row;
  }
  return count;
}

function addRow(sheet, count) {
  const last = sheet.querySelector(`[name^="run-${count - 1}-"]`).closest("li, tr");
  const more = last.cloneNode(true);
  more.querySelector("b, th").textContent = String(count + 1);
  for (const each of more.querySelectorAll(".wrong, .chip")) each.remove();
  for (const each of more.querySelectorAll("input, select")) {
    each.name = each.name.replace(/\d+/, String(count));
    if (each.id) each.id = each.name;
    each.ariaLabel = each.ariaLabel.replace(/\d+/, String(count + 1));
    if (each.tagName === "INPUT") each.value = "";
  }
  last.parentElement.append(more);
  sheet.elements.rows.value = String(count + 1);
}

// Which picture comes next, and of which run.
function next(asks, sheet) {
  const { before, told, picture } = asks.elements;
  const row = freeRow(asks, sheet);
  const way = sheet.querySelector(`select[name^="run-${Math.min(row, Number(sheet.elements.rows.value) - 1)}-"]`);
  const number = asks.querySelector("#run-number");
  number.hidden = false;
  const turns = way ? ` ${way.ariaLabel.split(": ")[1]} ${way.selectedOptions[0].textContent}` : "";
  number.replaceChildren(element("b", say("Run {number}", { number: row + 1 })), turns);
  if (told) {
    const asked = asks.dataset.asks === "side" ? sheet.elements.side : field(sheet, row, asks.dataset.asks);
    if (asked?.value) told.value = asked.value;
  }
  const [first, then] = asks.querySelectorAll(".two-pictures li");
  (before.value ? then : first).setAttribute("aria-current", "step");
  (before.value ? first : then).removeAttribute("aria-current");
  const label = asks.querySelector("label[for=run-picture-file]");
  if (label) label.textContent = before.value ? label.dataset.then : label.dataset.first;
  if (picture) picture.value = "";
}

async function measure(asks, sheet) {
  const says = asks.querySelector("#run-picture-says");
  const { before, told, picture } = asks.elements;
  const tell = (words, kind = "") => says.replaceChildren(element("p", words, { className: `notice ${kind}` }));
  if (!picture.files[0]) { tell(say("Take a picture first, or choose one."), "warning"); return; }
  const button = asks.querySelector("button.go");
  if (button.disabled) return;
  button.disabled = true;
  tell(say("Measuring…"));
  try {
    const seen = await send(asks.action, new FormData(asks), () => tell(say("Others are measuring just now. Yours is next…")));
    if (!seen.words) throw new Error(say("You are signed out on this tablet. Sign in again; the sheet keeps what it has."));
    if (!before.value) {
      before.value = seen.before;
      next(asks, sheet);
      const then = asks.querySelector(".two-pictures li:last-child").lastChild.textContent.trim();
      tell(say("Seen where it stands. Now: {then}", { then }), "success");
      picture.focus();
    } else offer(asks, sheet, seen, told?.value ?? "");
  } catch (error) { tell(error.message, "error"); picture.value = ""; }
  button.disabled = false;
}

// What the pictures said, to be taken or to be measured again.
function offer(asks, sheet, seen, told) {
  const says = asks.querySelector("#run-picture-says");
  const { before, picture } = asks.elements;
  const list = element("ul", "", { className: "notice success plain" });
  list.append(...seen.words.map((line) => element("li", `${line}.`)));
  const use = element("button", say("Use these numbers"), { type: "button", className: "go" });
  const leave = element("button", say("Leave it out"), { type: "button" });
  const answers = element("div", "", { className: "row" });
  answers.append(use, leave);
  const goOn = (words) => {
    if (!asks.dataset.once) before.value = "";
    next(asks, sheet);
    const then = asks.dataset.once
      ? say("Set it down again, and take the next picture.")
      : say("Next: a first picture of another run.");
    says.replaceChildren(element("p", `${words} ${then}`, { className: "notice" }));
    picture.focus();
  };
  use.addEventListener("click", () => { const row = fill(asks, sheet, seen, told); goOn(say("Run {number} is in the sheet.", { number: row + 1 })); });
  leave.addEventListener("click", () => goOn(say("Nothing was written.")));
  says.replaceChildren(list, answers);
  use.focus();
}

// As if it had been typed: what a sheet does with that, it does with this. Gives the row.
function fill(asks, sheet, seen, told) {
  const row = freeRow(asks, sheet);
  if (!field(sheet, row, filledByPictures(asks)[0])) addRow(sheet, row);
  if (asks.dataset.asks === "side") {
    sheet.elements.side.value = told || seen.shared.side || sheet.elements.side.value;
  } else if (asks.dataset.asks && told) {
    field(sheet, row, asks.dataset.asks).value = told;
  }
  for (const [column, value] of Object.entries(seen.fields)) field(sheet, row, column).value = value;
  sheet.dispatchEvent(new Event("input"));
  sheet.dispatchEvent(new Event("change"));
  return row;
}
