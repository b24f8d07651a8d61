// What a page asks by itself never takes away what somebody is pressing, nor the place where a press wants its answer.
// On every page that has htmx. Loaded under two addresses it holds twice what is held once.

export const HELD_MS = 20000; // what nobody ends, a press without an answer or a field left open, holds a page no longer
const isPressed = (event) => Boolean(event.detail.requestConfig?.triggeringEvent?.isTrusted);
export const isPoll = (event) => event.detail.elt?.getAttribute?.("hx-trigger")?.includes("every ") && !isPressed(event);

// Where each press that is on its way wants its answer. A fragment that is swapped meanwhile would take that place away.
const pressed = new Map();
document.addEventListener("htmx:beforeSend", (event) => { if (isPressed(event)) pressed.set(event.detail.xhr, { place: event.detail.target, at: Date.now() }); });
document.addEventListener("htmx:afterRequest", (event) => { pressed.delete(event.detail.xhr); });
const awaitsAnswer = (fragment) => [...pressed.values()].some(({ place, at }) => fragment.contains(place) && Date.now() - at < HELD_MS);

// A press is heard by a button that is there when the finger goes down and when it comes up; the click follows at once.
let finger = null;
document.addEventListener("pointerdown", (event) => { finger = { on: event.target, at: Date.now() }; });
for (const name of ["pointerup", "pointercancel"]) document.addEventListener(name, () => setTimeout(() => { finger = null; }));
const isUnderAFinger = (fragment) => finger !== null && fragment.contains(finger.on) && Date.now() - finger.at < HELD_MS;

// The next poll comes soon enough.
document.addEventListener("htmx:beforeSwap", (event) => {
  if (isPoll(event) && [isUnderAFinger, awaitsAnswer].some((holds) => holds(event.detail.elt))) event.detail.shouldSwap = false;
});
