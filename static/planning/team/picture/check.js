// The check of a table by one picture: sent to be measured, shown straightened here, its corners tapped under a magnifier.
// The picture itself stays in this page; the server has the numbers of one request and forgets them.

import { pixelOf, readPicture, straighten } from "./camera.js";
import { send } from "../../../classroom/club/marks/send.js";
import { say } from "../../../site/recall.js";

const MARGIN_MM = 60;
const LENS_MM = 90;
const SVG = "http://www.w3.org/2000/svg";

const form = document.getElementById("picture-check");
const table = JSON.parse(form.dataset.table);
const says = document.getElementById("picture-says");
const found = document.getElementById("picture-found");
const canvas = document.getElementById("straightened");
const over = document.getElementById("over");
const lens = document.getElementById("magnifier");
const choice = document.getElementById("which-corner");
const places = document.getElementById("picture-places");
const go = document.getElementById("places-go");
const file = form.elements.picture;
const region = { left: -MARGIN_MM, far: table.depth + MARGIN_MM, width: table.width + 2 * MARGIN_MM, depth: table.depth + 2 * MARGIN_MM };
const taps = new Map(); // field: [x, y] in mm
let picture = null;
let camera = null;
let fit = "";
let cross = null;

function tell(words, kind = "") {
  const line = document.createElement("p");
  line.className = `notice ${kind}`;
  says.replaceChildren(line);
  line.textContent = words;
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = event.submitter ?? form.querySelector("button");
  if (!file.files[0]) { tell(say("Take a picture first, or choose one."), "warning"); file.focus(); return; }
  button.disabled = true;
  tell(say("Measuring…"));
  const body = new FormData(form);
  body.set("do", "measure");
  try {
    const answer = await send(form.action, body, () => tell(say("Others are measuring just now. Yours is next…")));
    if (answer.leads) { location.href = answer.leads; return; }
    picture = await readPicture(file.files[0]);
    ({ camera, fit } = answer);
    tell(answer.words, "success");
    show();
  } catch (error) {
    tell(error.message || say("This picture cannot be shown here. Take another one."), "error");
  }
  button.disabled = false;
});

function show() {
  found.hidden = false;
  taps.clear();
  places.replaceChildren();
  canvas.width = 1200;
  canvas.height = Math.round((1200 * region.depth) / region.width);
  straighten(canvas, picture, camera, region);
  drawOver();
  choose(table.corners[0]?.field);
  found.scrollIntoView({ block: "start" });
}

const flat = (points) => points.map(([x, y]) => `${x - region.left},${region.far - y}`).join(" ");

function shape(kind, more) {
  const made = document.createElementNS(SVG, kind);
  for (const [name, value] of Object.entries(more)) made.setAttribute(name, value);
  return made;
}

function drawOver() {
  over.setAttribute("viewBox", `0 0 ${region.width} ${region.depth}`);
  const drawn = [shape("polygon", { class: "over-edge", points: flat(table.edge) })];
  for (const { kind, name, outline } of table.things) {
    drawn.push(shape("polygon", { class: `over-${kind}`, points: flat(outline) }));
    const middle = outline.reduce(([a, b], [x, y]) => [a + x / outline.length, b + y / outline.length], [0, 0]);
    const label = shape("text", { class: "over-name", x: middle[0] - region.left, y: region.far - middle[1] });
    label.textContent = name;
    drawn.push(label);
  }
  for (const [x, y] of taps.values()) drawn.push(shape("circle", { class: "over-tap", cx: x - region.left, cy: region.far - y, r: 14 }));
  if (cross) {
    const [x, y] = [cross[0] - region.left, region.far - cross[1]];
    drawn.push(shape("path", { class: "over-cross", d: `M${x - 45} ${y}h35m20 0h35M${x} ${y - 45}v35m0 20v35` }));
  }
  over.replaceChildren(...drawn);
}

function choose(field) {
  const corner = table.corners.find((each) => each.field === field);
  if (!corner) return;
  choice.value = field;
  moveTo(taps.get(field) ?? corner.at);
}

function moveTo([x, y]) {
  const inside = (value, low, high) => Math.max(low, Math.min(high, value));
  cross = [inside(x, region.left, table.width + MARGIN_MM), inside(y, -MARGIN_MM, region.far)];
  drawOver();
  const half = LENS_MM / 2;
  straighten(lens, picture, camera, { left: cross[0] - half, far: cross[1] + half, width: LENS_MM, depth: LENS_MM });
  const pen = lens.getContext("2d");
  const middle = lens.width / 2;
  for (const [colour, width] of [["#fff", 5], ["#000", 2]]) {
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    pen.beginPath();
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      pen.moveTo(middle + 6 * dx, middle + 6 * dy);
      pen.lineTo(middle + 44 * dx, middle + 44 * dy);
    }
    pen.stroke();
  }
}

function setCorner() {
  taps.set(choice.value, cross);
  const option = choice.selectedOptions[0];
  option.textContent = `✓ ${option.dataset.words}`;
  const next = table.corners.find(({ field }) => !taps.has(field));
  go.disabled = false;
  const set = { corner: option.dataset.words, count: taps.size, all: table.corners.length };
  document.getElementById("corner-set").textContent = say("{corner} is set. {count} of {all}.", set);
  if (next) choose(next.field);
  else drawOver();
}

function leaveOut() {
  const option = choice.selectedOptions[0];
  taps.delete(choice.value);
  option.textContent = option.dataset.words;
  go.disabled = !taps.size;
  const after = table.corners[choice.selectedIndex + 1] ?? table.corners[0];
  choose(after.field);
}

function placeOf({ clientX, clientY }, on, { left, far, width, depth }) {
  const box = on.getBoundingClientRect();
  return [left + ((clientX - box.left) / box.width) * width, far - ((clientY - box.top) / box.height) * depth];
}

let held = false;
over.addEventListener("pointerdown", (event) => {
  held = true;
  over.setPointerCapture(event.pointerId);
  over.focus();
  moveTo(placeOf(event, canvas, region));
  event.preventDefault();
});
over.addEventListener("pointermove", (event) => { if (held) moveTo(placeOf(event, canvas, region)); });
for (const name of ["pointerup", "pointercancel"]) over.addEventListener(name, () => { held = false; });
lens.addEventListener("click", (event) => {
  const half = LENS_MM / 2;
  moveTo(placeOf(event, lens, { left: cross[0] - half, far: cross[1] + half, width: LENS_MM, depth: LENS_MM }));
});

const WAYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
over.addEventListener("keydown", (event) => {
  if (event.key === "Enter") { event.preventDefault(); setCorner(); return; }
  const way = WAYS[event.key];
  if (!way || !cross) return;
  event.preventDefault();
  const step = event.shiftKey ? 20 : 1;
  moveTo([cross[0] + way[0] * step, cross[1] + way[1] * step]);
});
for (const button of found.querySelectorAll("[data-way]")) {
  button.addEventListener("click", () => {
    const way = WAYS[button.dataset.way];
    moveTo([cross[0] + way[0], cross[1] + way[1]]);
  });
}
choice.addEventListener("change", () => choose(choice.value));
document.getElementById("set-corner").addEventListener("click", setCorner);
document.getElementById("leave-out").addEventListener("click", leaveOut);

for (const { field, words } of table.corners) {
  const option = new Option(words, field);
  option.dataset.words = words;
  choice.append(option);
}

// Corners as pixels of the picture that was measured; the fit goes back as it came.
function asForm(wish) {
  const body = new FormData(form);
  body.delete("picture");
  body.set("do", wish);
  body.set("fit", fit);
  for (const [field, [x, y]] of taps) body.set(field, pixelOf(camera, x, y).map((part) => part.toFixed(2)).join(" "));
  return body;
}

async function ask(wish, button) {
  button.disabled = true;
  try {
    const answer = await send(form.action, asForm(wish));
    if (answer.leads) { location.href = answer.leads; return; }
    places.replaceChildren(...new DOMParser().parseFromString(answer.html, "text/html").body.childNodes);
    places.querySelector("#keep-places")?.addEventListener("click", (event) => ask("keep", event.currentTarget));
    places.querySelector("h2")?.focus();
  } catch (error) {
    const line = Object.assign(document.createElement("p"), { className: "notice error", textContent: error.message });
    line.setAttribute("role", "alert");
    places.querySelector(".notice.error")?.remove();
    places.prepend(line);
  }
  button.disabled = false;
}
go.addEventListener("click", () => ask("places", go));
form.elements.team?.addEventListener("change", () => { if (places.childNodes.length) ask("places", go); });
