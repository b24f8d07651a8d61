// Small things that a page remembers, and its sentences in its language: one module, since each costs a slow tablet a request.
// Storage may be full, shut or out of order: then nothing is remembered, and all goes on.

// English needs none; any other language comes with the page (classroom/site/script_words.py).
const words = JSON.parse(document.getElementById("words")?.content.textContent || "{}");

// A sentence by its English text; ``{name}`` in it is put in from ``values``.
export function say(sentence, values = {}) {
  return (words[sentence] ?? sentence).replace(/\{(\w+)\}/g, (_, name) => values[name]);
}

// A number as this page's language writes it.
export function inOwnDigits(number) {
  return words["."] ? String(number).replace(".", words["."]) : String(number);
}

export function recall(key, where = "localStorage") {
  try { return JSON.parse(window[where].getItem(key)); } catch { return null; }
}

// Whether it is kept.
export function remember(key, value, where = "localStorage") {
  try {
    window[where].setItem(key, JSON.stringify(value));
    return true;
  } catch { return false; }
}

// What nobody waits for comes when the page is there; on a connection that hangs, after a while all the same.
const LATEST_MS = 5000;

export function onceLoaded(act) {
  let done = false;
  const once = () => { if (!done) { done = true; act(); } };
  if (document.readyState === "complete") once();
  else {
    addEventListener("load", once);
    setTimeout(once, LATEST_MS);
  }
}

export function forget(key, where = "localStorage") {
  try { window[where].removeItem(key); } catch { /* it could not be kept either */ }
}
