// @ts-check
/** A finding's message on the session's clock and in the reader's units. */
import { formatPlain } from "../../shared/units.js";

/** @typedef {import("../session/documents").Finding} Finding */
/** @typedef {import("../session/documents").Phrase} Phrase */
/** @typedef {import("../session/clock.js").SessionClock} SessionClock */
/** @typedef {import("../../shared/units.js").Units} Units */

/**
 * @param {Pick<Finding, "message" | "told">} finding
 * @param {SessionClock} clock
 * @param {Units} units
 * @returns {string} its own words where it tells no figure
 */
export function told({ message, told: phrases }, clock, units) {
  return phrases.length > 0 ? phrases.map((phrase) => words(phrase, clock, units)).join("") : message;
}

/** @param {Phrase} phrase @param {SessionClock} clock @param {Units} units */
function words({ words: own, of, value }, clock, units) {
  if (of === null || value === null) return own;
  if (of === "t_ms") return clock.time(value);
  if (of === "day_ms") return `${clock.date(value)}, ${clock.time(value).slice(0, 5)}`;
  if (units.distance === "km") return own.replace(" ", "\u00a0");
  return of === "speed_mps" ? formatPlain("speed", value, units, 0) : formatPlain("distance", value, units, decimals(own));
}

/**
 * Of a distance in miles: about as fine as metres or kilometres said it, a hundredth at the coarsest.
 * @param {string} own
 */
function decimals(own) {
  return own.endsWith("km") ? 2 : 3 + (/\.(\d+)/.exec(own)?.[1]?.length ?? 0);
}
