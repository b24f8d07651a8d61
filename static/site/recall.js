// Small things that a page remembers. Storage may be full, shut or out of order: then nothing is remembered, and all goes on.

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

export function forget(key, where = "localStorage") {
  try { window[where].removeItem(key); } catch { /* it could not be kept either */ }
}
