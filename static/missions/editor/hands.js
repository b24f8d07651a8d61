// Pointers and keys on the map.

import { say as inPageLanguage } from "../../site/recall.js";

const KEYS = {
  ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down",
  n: "next", p: "previous", c: "corner", Escape: "whole", a: "add-corner", o: "add-obstacle", k: "add-keep-out",
};

/** Drag with mouse, pen or finger. A finger drags only what it has chosen before, so that the page can be scrolled. */
export function listenToPointer({ map, chart, moves, chosen, choose, changed, say }) {
  let drag = null;

  map.addEventListener("pointerdown", (event) => {
    const grip = event.target.closest("[data-grip]");
    if (!grip || event.button !== 0 || drag) return;
    const [kind, key, index] = grip.dataset.grip.split(":");
    const was = chosen.shape;
    const corner = kind === "corner" ? Number(index) : null;
    map.focus({ preventScroll: true });
    const finger = event.pointerType === "touch";
    // Drawn anew later when a finger drags: its touchstart would be lost with the element that it began on.
    if (finger && was === key) chosen.corner = corner;
    else choose(key, corner);
    if (finger && was !== key) return;
    const from = moves.points(chosen);
    if (!from) return;
    event.preventDefault();
    map.setPointerCapture(event.pointerId);
    drag = { id: event.pointerId, from: from.map((p) => ({ ...p })), at: chart.place(event), moved: false };
  });

  map.addEventListener("pointermove", (event) => {
    if (!drag || event.pointerId !== drag.id) return;
    const at = chart.place(event);
    const by = { x: at.x - drag.at.x, y: at.y - drag.at.y };
    if (!drag.moved && Math.hypot(by.x, by.y) * chart.scale < 3) return;
    drag.moved = true;
    moves.drag(chosen, drag.from, by);
    changed({ settled: false });
    say(moves.say(chosen));
  });

  // The pointer's event comes first: a finger that drags a shape does not scroll the page as well.
  map.addEventListener("touchstart", (event) => { if (drag) event.preventDefault(); }, { passive: false });

  const end = (event) => {
    if (!drag || event.pointerId !== drag.id) return;
    const { moved } = drag;
    drag = null;
    choose(chosen.shape, chosen.corner);
    if (moved) changed();
  };
  map.addEventListener("pointerup", end);
  map.addEventListener("pointercancel", end);
  addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !drag) return;
    moves.put(chosen, drag.from);
    drag = null;
    changed();
    say(inPageLanguage("Back where it was."));
  });
}

/** Keys work on the map only while it has the focus; undo works on the whole page outside of boxes. */
export function listenToKeys({ map, acts }) {
  map.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const times = event.shiftKey ? 10 : 1;
    if (key === "Delete" || key === "Backspace") acts[event.shiftKey ? "remove-shape" : "remove-what"](1);
    else if (key === "," || key === "<") acts["turn-left"](1, event.shiftKey ? 1 : 5);
    else if (key === "." || key === ">") acts["turn-right"](1, event.shiftKey ? 1 : 5);
    else if (key === "c") acts.corner(event.shiftKey ? -1 : 1);
    else if (KEYS[key]) acts[KEYS[key]](times);
    else return;
    event.preventDefault();
  });
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey || event.key.toLowerCase() !== "s") return;
    event.preventDefault();
    acts.save();
  });
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.target.matches("input, textarea, select")) return;
    const key = event.key.toLowerCase();
    const act = key === "z" ? (event.shiftKey ? "redo" : "undo") : key === "y" ? "redo" : null;
    if (!act) return;
    acts[act](1);
    event.preventDefault();
  });
}
