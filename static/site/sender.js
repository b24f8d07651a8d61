// Sends what the tablet has kept, a few at a time, until the server has answered for each. Sending twice is harmless:
// every item has its own key.

import * as queue from "./queue.js";
import { recall, remember } from "./recall.js";

const BATCH = 40;
const PATIENCE_MS = 20000;
const PAUSES_MS = [1500, 3000, 6000, 12000, 30000];
const LONGEST_PAUSE_MS = 600000;
const CLOCK_KEY = "helmroom-clock-ahead";
const CLOCK_GOOD_MS = 3600000;

function csrfToken() {
  const cookie = document.cookie.split("; ").find((part) => /^(__Host-)?csrftoken=/.test(part));
  if (cookie) return cookie.slice(cookie.indexOf("=") + 1);
  return JSON.parse(document.body.getAttribute("hx-headers") || "{}")["X-CSRFToken"] || "";
}

// How far this tablet's clock is ahead of the server's, in whole seconds, as last seen; nothing under five seconds.
// Undefined where nobody knows: what was seen long ago, or later than now, may be of a clock that has been set since.
export function clockAhead(now = Date.now()) {
  const { ahead, at } = recall(CLOCK_KEY) ?? {};
  return now - at >= 0 && now - at < CLOCK_GOOD_MS ? ahead : undefined;
}

function noteClock(serverNow, sentAt) {
  const now = Date.now();
  const ahead = Math.round(((sentAt + now) / 2 - Date.parse(serverNow)) / 1000);
  if (Number.isFinite(ahead)) remember(CLOCK_KEY, { ahead: Math.abs(ahead) < 5 ? 0 : ahead, at: now });
}

// Seconds or a date (RFC 9110, section 10.2.3); a server cannot ask for more than ten minutes.
function retryAfterMs(response) {
  const said = response.headers.get("Retry-After") ?? "";
  const ms = /^\d+$/.test(said.trim()) ? Number(said) * 1000 : Date.parse(said) - Date.now();
  return Number.isFinite(ms) ? Math.min(Math.max(ms, 0), LONGEST_PAUSE_MS) : 0;
}

// What an answer that is none of ours, or no good one, means. A Wi-Fi's own sign-in page answers in our place: by a
// redirect, by a page of its own, or by 511 (RFC 6585, section 6).
function linkOf(response) {
  const ours = (response.headers.get("Content-Type") ?? "").startsWith("application/json");
  if (response.type === "opaqueredirect" || response.status === 511) return "wifi";
  if ([401, 404, 409].includes(response.status)) return "door";
  if (response.status === 403) return "old";
  if (response.status === 429) return "busy";
  if (response.status >= 500) return "trouble";
  if (!ours) return "wifi";
  return response.ok ? "ok" : "whole";
}

const TRY_AGAIN = ["away", "wifi", "busy", "trouble"];

export class Sender {
  // ``tell(link)`` hears "sending", "ok", "away" (no network), "wifi" (the Wi-Fi's own page answers), "busy" (asked to
  // wait), "trouble" (the server is not well), "door" (sign in again), "old" (load the page again) or "whole" (what was
  // sent could not be read at all: everything stays here); ``settled(record, reply)`` hears what became of each item.
  constructor({ team, url, tell, settled }) {
    Object.assign(this, { team, url, tell, settled, busy: false, again: false, misses: 0, timer: 0, notBefore: 0 });
    addEventListener("online", () => this.wake());
    document.addEventListener("visibilitychange", () => { if (!document.hidden) this.wake(); });
  }

  wake() {
    this.misses = 0;
    return this.send();
  }

  async send() {
    if (performance.now() < this.notBefore) return this.later();
    if (this.busy) { this.again = true; return undefined; }
    this.busy = true;
    clearTimeout(this.timer);
    let link = "away";
    try {
      link = await this.sendAll();
    } finally {
      this.busy = false;
      this.tell(link);
      if (TRY_AGAIN.includes(link)) this.later();
    }
    if (this.again) { this.again = false; return this.send(); }
    return undefined;
  }

  later() {
    const asked = this.notBefore - performance.now();
    const pause = PAUSES_MS[Math.min(this.misses, PAUSES_MS.length - 1)] * (0.75 + Math.random() / 2);
    this.misses += 1;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.send(), asked > 0 ? asked + 50 : pause);
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
      if (!records.length && all.length < most) return skipped.size ? "trouble" : "ok";
    }
  }

  async sendSome(records, skipped) {
    await queue.markTried(records);
    const sentAt = Date.now();
    let body;
    try {
      const response = await fetch(this.url, {
        method: "POST",
        credentials: "same-origin",
        redirect: "manual",
        headers: { Accept: "application/json", "Content-Type": "application/json", "X-CSRFToken": csrfToken() },
        body: JSON.stringify({ team: this.team, now: new Date(sentAt).toISOString(), items: records.map((record) => record.item) }),
        signal: AbortSignal.timeout(PATIENCE_MS),
      });
      this.notBefore = performance.now() + retryAfterMs(response);
      const link = linkOf(response);
      if (link !== "ok") return link;
      body = await response.json();
    } catch {
      return "away";
    }
    if (!Array.isArray(body?.replies) || body.replies.length !== records.length) return "wifi";
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
    } else if (reply.code === "bad_clock" && clockAhead() !== undefined && record.item.ahead_s !== clockAhead()) {
      // The tablet's clock was wrong when the run was made and nobody knew yet. Now we do, and the run was not kept.
      await queue.again(record, { ...record.item, ahead_s: clockAhead() });
      return;
    } else {
      await queue.refuse(record, reply.code, reply.words);
    }
    this.settled(record, reply);
  }
}
