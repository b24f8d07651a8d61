// What the coach says to this team comes by itself, on every page of its tablet. While nothing is new the answer is 304.

import { onceLoaded } from "./recall.js";

const place = document.getElementById("news");
// A page that has drawn the news says which it drew.
let tag = place.dataset.tag ? `"${place.dataset.tag}"` : "";
let asking = false;

// Nobody loses what has the focus: a message under a finger or a reader's cursor waits for the next turn.
const held = () => place.contains(document.activeElement);

async function ask() {
  if (asking || document.hidden || held()) return;
  asking = true;
  try {
    const headers = { "HX-Request": "true", ...(tag && { "If-None-Match": tag }) };
    const response = await fetch(place.dataset.news, { headers, credentials: "same-origin", redirect: "manual" });
    if (!response.ok || held()) return;
    const text = await response.text();
    tag = response.headers.get("ETag") ?? "";
    const fresh = new DOMParser().parseFromString(text, "text/html").body;
    if (fresh.textContent !== place.textContent) place.replaceChildren(...fresh.childNodes);
  } catch {
    // No network: the state of the queue says so already.
  } finally {
    asking = false;
  }
}

onceLoaded(ask);
setInterval(ask, Number(place.dataset.every));
document.addEventListener("visibilitychange", ask);
