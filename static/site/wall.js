// A wall has letters that are read from six metres. What does not fit then takes turns: some teams or tables, then the next.
// [data-wall] holds it; a [data-wall-item] stays whole; a table's [data-wall-column]s may come one after the other as well.

import { say } from "./recall.js";

const LASTS_MS = 9000;
let screens = [], at = 0, timer = 0;

const itemsOf = (wall) => [...wall.querySelectorAll("[data-wall-item]")];
const columnsOf = (wall) => [...new Set([...wall.querySelectorAll("[data-wall-column]")].map((one) => one.dataset.wallColumn))];

function showColumns(wall, columns) {
  for (const cell of wall.querySelectorAll("[data-wall-column]")) cell.hidden = !columns.includes(cell.dataset.wallColumn);
}

function cut(all, many) {
  const size = Math.ceil(all.length / many), parts = [];
  for (let from = 0; from < all.length; from += size) parts.push(all.slice(from, from + size));
  return parts;
}

// As few groups of columns as are no wider than the wall, all of about one size.
function columnGroups(wall) {
  const all = columnsOf(wall), box = wall.querySelector(".scroll");
  if (!box) return [all];
  for (let many = 1; many < all.length; many += 1) {
    const groups = cut(all, many);
    const fit = groups.every((group) => { showColumns(wall, group); return box.scrollWidth <= box.clientWidth + 1; });
    if (fit) return groups;
  }
  return all.length ? cut(all, all.length) : [all];
}

// Items beside one another are one line. Where each begins and ends, and what height is left for them.
function measured(wall, items) {
  const lines = [];
  for (const item of items) {
    const { top, bottom } = item.getBoundingClientRect(), last = lines.at(-1);
    if (last && Math.abs(top - last.top) < 2) { last.items.push(item); last.bottom = Math.max(last.bottom, bottom); }
    else lines.push({ items: [item], top, bottom });
  }
  const rest = bottomOf(wall) - (lines.length ? lines.at(-1).bottom - lines[0].top : 0);
  return { lines, room: window.innerHeight - rest };
}

const bottomOf = (wall) => wall.closest("main").getBoundingClientRect().bottom + window.scrollY;

function packed({ lines, room }, most) {
  const pages = [];
  let first = null;
  for (const line of lines) {
    if (first && line.bottom - first.top <= room && pages.at(-1).length < most) pages.at(-1).push(line);
    else { first = line; pages.push([line]); }
  }
  return pages;
}

// No more pages than it takes, and about as much on each.
function evened(found) {
  const fewest = packed(found, Infinity);
  for (let most = Math.ceil(found.lines.length / fewest.length); most < found.lines.length; most += 1) {
    const pages = packed(found, most);
    if (pages.length === fewest.length) return pages;
  }
  return fewest;
}

const onlyShow = (items, shown) => { for (const item of items) item.hidden = !shown.includes(item); };

// Among others an item may be lower than alone, since columns are as wide as what stands in them: each page is looked at.
function pagesOf(wall, items) {
  const found = measured(wall, items);
  for (;;) {
    const pages = evened(found).map((page) => page.flatMap((line) => line.items));
    const over = Math.max(0, ...pages.map((page) => { onlyShow(items, page); return bottomOf(wall) - window.innerHeight; }));
    onlyShow(items, items);
    if (over < 1 || pages.length >= found.lines.length) return pages;
    found.room -= over;
  }
}

function screensOf(wall, items) {
  const groups = columnGroups(wall);
  const ways = groups.map((group) => { showColumns(wall, group); return pagesOf(wall, items); });
  const pages = ways.reduce((one, other) => (other.length > one.length ? other : one));
  return pages.flatMap((page) => groups.map((columns) => ({ page, columns })));
}

const saidOf = (wall) => wall.querySelector("[data-wall-said]");
const button = () => document.querySelector("[data-wall-next]");

function arrange() {
  const wall = document.querySelector("[data-wall]");
  if (!wall) return;
  const items = itemsOf(wall);
  onlyShow(items, items);
  document.body.classList.add("measuring");
  button().hidden = true;
  saidOf(wall).textContent = "";
  screens = screensOf(wall, items);
  if (screens.length > 1) { // that there are several is said, which takes room too
    saidOf(wall).textContent = words(10, 10);
    button().hidden = false;
    screens = screensOf(wall, items);
  }
  document.body.classList.remove("measuring");
  if (at >= screens.length) at = 0;
  clearInterval(timer);
  if (screens.length) show();
}

const words = (number, all) => say("Screen {number} of {all}", { number, all });

function show() {
  const wall = document.querySelector("[data-wall]"), { page, columns } = screens[at];
  onlyShow(itemsOf(wall), page);
  showColumns(wall, columns);
  clearInterval(timer);
  if (screens.length < 2) return;
  saidOf(wall).textContent = words(at + 1, screens.length);
  timer = setInterval(() => { if (!document.body.dataset.paused && !document.hidden) turn(); }, LASTS_MS);
}

function turn() {
  at = (at + 1) % screens.length;
  show();
}

arrange();
document.addEventListener("htmx:afterSwap", arrange);
window.addEventListener("resize", arrange);
document.addEventListener("click", (event) => { if (event.target.closest("[data-wall-next]")) turn(); });
