// Sends what the tablet has kept, a few at a time, until the server has answered for each. Sending twice is harmless:
// every item has its own key.

import * as queue from "./queue.js";

const BATCH = 40;
const PATIENCE_MS = 20000;
const PAUSES_MS = [1500, 3000, 6000, 12000, 30000];
const CLOCK_KEY = "helmroom-clock-ahead";

function csrfToken() {
  const cookie = document.cookie.split("; ").find((part) => part.startsWith("csrftoken="));
  if (cookie) return cookie.slice("csrftoken=".length);
  return JSON.parse(document.body.getAttribute("hx-headers") || "{}")["X-CSRFToken"] || "";
}

// How far this tablet's clock is ahead of the server's, in whole seconds, as last seen; nothing under five seconds.
export function clockAhead() {
  return Number(localStorage.getItem(CLOCK_KEY)) || 0;
}

function noteClock(serverNow, sentAt) {
  const middle = (sentAt + Date.now()) / 2;
  const ahead = Math.round((middle - Date.parse(serverNow)) / 1000);
  if (Number.isFinite(ahead)) localStorage.setItem(CLOCK_KEY, Math.abs(ahead) < 5 ? "0" : String(ahead));
}

export class Sender {
  // ``tell(link)`` hears "sending", "ok", "away" (no network), "door" (sign in again), "old" (load the page again) or
  // "whole" (what was sent could not be read at all: everything stays here);
  // ``settled(record, reply)`` hears what became of each item.
  constructor({ team, url, tell, settled }) {
    Object.assign(this, { team, url, tell, settled, busy: false, again: false, misses: 0, timer: 0 });
    addEventListener("online", () => this.wake());
    document.addEventListener("visibilitychange", () => { if (!document.hidden) this.wake(); });
  }

  wake() {
    this.misses = 0;
    return this.send();
  }

  async send() {
    if (this.busy) { this.again = true; return; }
    this.busy = true;
    clearTimeout(this.timer);
    try {
      const link = await this.sendAll();
      this.tell(link);
      if (link === "away") this.later();
    } finally {
      this.busy = false;
    }
    if (this.again) { this.again = false; await this.send(); }
  }

  later() {
    const pause = PAUSES_MS[Math.min(this.misses, PAUSES_MS.length - 1)];
    this.misses += 1;
    this.timer = setTimeout(() => this.send(), pause * (0.75 + Math.random() / 2));
  }

  async sendAll() {
    const skipped = new Set();
    for (;;) {
      const most = BATCH + skipped.size;
      const all = await queue.waiting(this.team, most);
      // What changes a run that has to be sent again waits for it.
      for (const record of all) if (skipped.has(record.item?.of)) skipped.add(record.uuid);
      const records = all.filter((record) => !skipped.has(record.uuid)).slice(0, BATCH);
      if (records.length) this.tell("sending");
      const link = await this.sendSome(records, skipped);
      if (link !== "ok") return link;
      if (!records.length && all.length < most) return skipped.size ? "away" : "ok";
    }
  }

  async sendSome(records, skipped) {
    if (records.some((record) => !record.tried)) await queue.markTried(records);
    const sentAt = Date.now();
    let response;
    let body;
    try {
      response = await fetch(this.url, {
        method: "POST",
        credentials: "same-origin",
        redirect: "manual",
        headers: { "Content-Type": "application/json", "X-CSRFToken": csrfToken() },
        body: JSON.stringify({ team: this.team, items: records.map((record) => record.item) }),
        signal: AbortSignal.timeout(PATIENCE_MS),
      });
      if (response.type === "opaqueredirect" || response.status === 404 || response.status === 409) return "door";
      if (response.status === 403) return "old";
      if (response.status === 400 || response.status === 413) return "whole";
      if (!response.ok) return "away";
      body = await response.json();
    } catch {
      return "away";
    }
    noteClock(body.now, sentAt);
    this.misses = 0;
    for (const [i, record] of records.entries()) await this.settle(record, body.replies[i], skipped);
    return "ok";
  }

  async settle(record, reply, skipped) {
    if (reply.status === 200) {
      await queue.done(record);
    } else if (reply.status === 503) {
      skipped.add(record.uuid);
      return;
    } else if (reply.code === "bad_clock" && record.item.ahead_s !== clockAhead()) {
      // The tablet's clock was wrong when the run was made and nobody knew yet. Now we do, and the run was not kept.
      await queue.again(record, { ...record.item, ahead_s: clockAhead() });
      return;
    } else {
      await queue.refuse(record, reply.code, reply.words);
    }
    this.settled(record, reply);
  }
}
