// Lengths as the form writes them. The server reads every box again; this only has to draw.

import { inOwnDigits } from "../../site/recall.js";

const MM = { mm: 1, cm: 10, m: 1000, in: 25.4, inch: 25.4, inches: 25.4, '"': 25.4, "″": 25.4, ft: 304.8 };
const DECIMALS = { mm: 1, cm: 2, in: 3 };

/** Millimetres of a typed length, or null when it cannot be read without guessing. */
export function readLength(text, unit) {
  const tidy = String(text).trim().toLowerCase().replace("−", "-");
  const match = tidy.match(/^([+-]?)\s*(?:(\d+)\s+(\d+)\/(\d+)|(\d+)\/(\d+)|(\d+(?:[.,]\d*)?|[.,]\d+))\s*([a-z"″]*)\.?$/);
  if (!match) return null;
  const [, sign, whole, over, under, top, bottom, number, word] = match;
  const factor = MM[word || unit];
  const value = number !== undefined ? Number(number.replace(",", "."))
    : whole !== undefined ? Number(whole) + over / under : top / bottom;
  const mm = (sign === "-" ? -1 : 1) * value * factor;
  return Number.isFinite(mm) && Math.abs(mm) <= 1e6 ? mm : null;
}

/** A length as a bare number of the unit. */
export function writeLength(mm, unit) {
  const text = (mm / MM[unit]).toFixed(DECIMALS[unit]).replace(/\.?0+$/, "");
  return text === "-0" ? "0" : text;
}

/** A length for people. */
export function sayLength(mm, unit) {
  const text = (mm / MM[unit]).toFixed(unit === "mm" ? 0 : 1).replace(/\.0$/, "");
  return `${text === "-0" ? "0" : inOwnDigits(text)} ${unit}`;
}

/** Degrees, or null. */
export function readAngle(text) {
  const match = String(text).trim().replace("−", "-").match(/^([+-]?\d+(?:[.,]\d*)?)\s*(?:°|deg|degrees?)?$/);
  return match ? Number(match[1].replace(",", ".")) : null;
}

export function writeAngle(deg) {
  const wrapped = ((deg % 360) + 540) % 360 - 180;
  return String(Math.round((wrapped === -180 ? 180 : wrapped) * 100) / 100);
}
