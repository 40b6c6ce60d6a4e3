// @ts-check
/** When to speak of a figure worth noting, and in which words; a refusal is respected. Pure. */
import { convert, formatNumber, unitOf } from "../../shared/measures.js";
import { readingName } from "../../shared/vocabulary.js";
import { readingWorth } from "./reading-worth.js";

/** @typedef {import("./types").Worth} Worth */

/** A hand that just tapped is busy with what it saw. */
const BUSY_MS = 8000;
/** Said no once: not again before the doubt has grown by half. */
const GROWN_ENOUGH = 1.5;

export function startReadingAdvice() {
  /** @type {Worth | null} */
  let now = null;
  /** @type {Worth | null} */
  let declined = null;

  /** @param {Worth} worth */
  const isDeclined = (worth) =>
    declined?.key === worth.key && declined.kind === worth.kind &&
    (worth.doubt_kwh ?? 0) <= GROWN_ENOUGH * (declined.doubt_kwh ?? 0);

  return {
    /**
     * @param {import("./types").Standing} standing
     * @param {number} idle_ms since the last touch
     * @returns {Worth | null}
     */
    update(standing, idle_ms) {
      now = idle_ms < BUSY_MS ? null : readingWorth(standing);
      if (now && isDeclined(now)) now = null;
      return now;
    },
    decline() {
      declined = now;
    },
  };
}

/**
 * What to do, and why in one line.
 * @param {Worth} worth @param {import("../../shared/measures.js").Units} units
 * @returns {import("./types").Words}
 */
export function noteWords(worth, units) {
  const { quantity, value, doubt_kwh, since_m, due_m } = worth;
  const road = (/** @type {number} */ m) => formatNumber(convert("distance", m, units), 1);
  const unit = unitOf("distance", units);
  if (due_m !== null) {
    return {
      kind: "note", lead: "", main: `Watch for ${value} %`,
      rest: `due every ${road(due_m)} ${unit}; ${road(since_m)} driven`,
    };
  }
  const main = `Enter: ${readingName(quantity)}`;
  if (doubt_kwh === null) return { kind: "note", lead: "", main, rest: "None yet: no energy figure" };
  const after = since_m > 0 ? ` after ${road(since_m)} ${unit}` : "";
  return { kind: "note", lead: "", main, rest: `uncertain by ±${doubt_kwh.toFixed(2)} kWh${after}` };
}
