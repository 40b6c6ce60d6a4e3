// @ts-check
/** When to speak of a figure worth noting, and in which words; a refusal is respected. Pure. */
import { convert, formatNumber, unitOf } from "../../shared/measures.js";
import { readingName } from "../../shared/vocabulary.js";
import { shortSpan } from "../records/words.js";
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
    worth.grown <= GROWN_ENOUGH * declined.grown;

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
  if (worth.kind === "charge") return chargeWords(worth);
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

/** Why the last power no longer tells the state. @type {{ [state: string]: (age: string) => string }} */
const DOUBTS = {
  none: () => "None since it was plugged in",
  no_power: (age) => `None ${age} ago. Does it flow?`,
  unknown: (age) => `Not known ${age} ago. And now?`,
  trickling: (age) => `Trickling ${age} ago. Rising?`,
  ramping: (age) => `Ramping ${age} ago. Steady?`,
  falling: (age) => `Falling ${age} ago. Steady?`,
};

/** @param {Worth} worth @returns {import("./types").Words} */
function chargeWords({ quantity, value, doubt_kwh, state, age_ms }) {
  const words = (/** @type {string} */ main, /** @type {string} */ rest) =>
    ({ kind: /** @type {const} */ ("note"), lead: "", main, rest });
  if (value !== null) return words(`Watch for ${value}\u00a0%`, "due by the power it takes");
  const main = `Enter: ${readingName(quantity)}`;
  if (doubt_kwh !== null) return words(main, `energy uncertain by ±${doubt_kwh.toFixed(2)} kWh`);
  return words(main, DOUBTS[state ?? ""]?.(shortSpan(age_ms)) ?? "");
}
