// On every page of a signed-in tablet: what is kept here goes out, and its state stands in words in the bar.

import * as queue from "./queue.js";
import { onceLoaded, say } from "./recall.js";
import { Sender } from "./sender.js";
import "./news.js";

const place = document.getElementById("kept");
export const team = Number(place.dataset.team);
let link = "sending";
const listeners = [];
const watchers = [];

export const sender = new Sender({
  team,
  url: place.dataset.send,
  tell(state) { link = state; show(); },
  settled(record, reply) { for (const hear of listeners) hear(record, reply); show(); },
});

export function onSettled(hear) { listeners.push(hear); }
export function onShown(hear) { watchers.push(hear); }

// What waits although it was tried: that is worth a list.
export const heldUp = () => !["sending", "ok"].includes(link);

// The states, each with a shape, a word and a colour.
function words({ waiting, refused }) {
  if (!queue.hasRoom() || queue.onlyHere()) return ["bad", "▲", waiting + refused ? say("This tablet is full: keep this page open ({count})", { count: waiting + refused }) : say("This tablet is full: keep this page open")];
  if (refused) return ["bad", "▲", say("Not saved ({count})", { count: refused })];
  if (!waiting) return ["ready", "✓", say("Saved")];
  if (link === "door") return ["help", "●", say("Sign in again to send ({count})", { count: waiting })];
  if (link === "old") return ["help", "●", say("Load this page again to send ({count})", { count: waiting })];
  if (link === "whole") return ["bad", "▲", say("Not saved ({count}): load this page again, or show your coach", { count: waiting })];
  if (link === "wifi") return ["help", "●", say("Sign in to the Wi-Fi to send ({count})", { count: waiting })];
  if (link === "busy") return ["help", "●", say("Asked to wait a little, then sends ({count})", { count: waiting })];
  if (link === "trouble") return ["help", "●", say("The club's computer has trouble: tried again ({count})", { count: waiting })];
  if (link === "sending") return ["working", "●", say("Sending ({count})", { count: waiting })];
  return ["help", "●", say("Waiting for network ({count})", { count: waiting })];
}

export async function show() {
  const some = await queue.counts(team);
  for (const hear of watchers) hear();
  const [kind, shape, text] = words(some);
  if (place.dataset.words === text) return;
  place.dataset.words = text;
  const chip = document.createElement(kind === "bad" || link === "door" ? "a" : "span");
  if (chip.tagName === "A") chip.href = link === "door" ? place.dataset.door : place.dataset.log + "#not-saved";
  chip.className = `chip ${kind}`;
  const mark = document.createElement("span");
  mark.setAttribute("aria-hidden", "true");
  mark.textContent = shape;
  chip.append(mark, ` ${text}`);
  place.replaceChildren(chip);
  const leaving = document.getElementById("leaving-runs");
  if (leaving) leaving.hidden = some.waiting + some.refused === 0;
}

addEventListener("offline", () => { link = "away"; show(); });
addEventListener("beforeunload", (event) => { if (queue.onlyHere()) event.preventDefault(); });
queue.test().then(show);
onceLoaded(() => {
  sender.send();
  // Left, or without its network, before the worker has come: the page does without, and the next one asks again.
  if ("serviceWorker" in navigator && isSecureContext) navigator.serviceWorker.register("/team/worker.js").catch(() => {});
  // Short of room, a browser throws away what no one has asked it to hold on to. It may refuse; then all goes on as before.
  if (isSecureContext) navigator.storage?.persist?.().catch(() => {});
});
