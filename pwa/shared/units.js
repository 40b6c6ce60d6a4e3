// @ts-check
/**
 * Figures with their intervals, in the user's unit and with as many digits as the interval
 * allows. Everything of `measures.js`, which is all that the phone needs, comes with it.
 */
import { DEFAULT_UNITS, convert, formatNumber, unitOf } from "./measures.js";

export * from "./measures.js";

/** @typedef {import("./measures.js").Dimension} Dimension */
/** @typedef {import("./measures.js").Quantity} Quantity */
/** @typedef {import("./measures.js").Units} Units */
/**
 * @typedef {object} Formatted
 * @property {string} value  the figure alone
 * @property {string} unit  may be empty
 * @property {string} interval  "6.38–6.47", or empty when there is none
 * @property {string} text  all of it: "6.42 km (6.38–6.47)"
 */

/** What people who think in the one usually take for the others. @type {Record<Units["distance"], Units>} */
export const COMPANIONS = {
  km: DEFAULT_UNITS,
  mi: { distance: "mi", consumption: "Wh/mi", temperature: "°F" },
};

/** @type {Record<Dimension, number>} */
const PLAIN_DECIMALS = {
  distance: 2, speed: 1, energy: 2, power: 1, duration: 0,
  consumption: 1, temperature: 0, percent: 1, ratio: 4,
};
/** A factor is stated alike wherever it is. @type {Partial<Record<Dimension, number>>} */
const LEAST_DECIMALS = { ratio: 4 };

/**
 * Decimals that let the half-width of an interval show one digit, or two when the first is 1 or
 * 2 (JCGM 100:2008, 7.2.6: a stated uncertainty needs at most two digits).
 * @param {number} halfWidth in the unit shown
 * @param {number} otherwise when the interval has no width
 * @returns {number}
 */
export function decimalsFor(halfWidth, otherwise) {
  if (!(halfWidth > 0) || !Number.isFinite(halfWidth)) return otherwise;
  const exponent = Math.floor(Math.log10(halfWidth));
  const leading = Math.floor(halfWidth / 10 ** exponent);
  return Math.min(5, Math.max(0, (leading < 3 ? 1 : 0) - exponent));
}

/**
 * Decimals of the figure itself: to the first digit of its doubt, as anyone would say it. The ends
 * beside it keep a second digit, since rounding them would make the interval another.
 * @param {number} halfWidth in the unit shown
 * @param {number} otherwise when the interval has no width
 * @returns {number}
 */
export function decimalsSaid(halfWidth, otherwise) {
  if (!(halfWidth > 0) || !Number.isFinite(halfWidth)) return otherwise;
  return Math.min(5, Math.max(0, -Math.floor(Math.log10(halfWidth))));
}

/**
 * @param {number} seconds
 * @param {number} decimals of the second
 * @returns {string} "12:05" or "1:02:05"
 */
function formatClockLike(seconds, decimals) {
  const rounded = Number(Math.abs(seconds).toFixed(decimals));
  const hours = Math.floor(rounded / 3600);
  const minutes = Math.floor((rounded % 3600) / 60);
  const rest = (rounded % 60).toFixed(decimals).padStart(decimals ? decimals + 3 : 2, "0");
  const head = hours ? `${hours}:${String(minutes).padStart(2, "0")}` : String(minutes);
  return `${seconds < 0 && rounded > 0 ? "\u2212" : ""}${head}:${rest}`;
}

/**
 * A figure with its interval in the user's unit. Digits follow the interval; a reciprocal unit
 * (mi/kWh) swaps the ends.
 * @param {Dimension} dimension
 * @param {Quantity | null | undefined} quantity SI
 * @param {Units} units
 * @returns {Formatted | null} null when there is no figure
 */
export function formatQuantity(dimension, quantity, units) {
  if (!quantity) return null;
  const value = convert(dimension, quantity.value, units);
  const ends = [convert(dimension, quantity.low, units), convert(dimension, quantity.high, units)];
  const low = Math.min(...ends);
  const high = Math.max(...ends);
  const asClock = dimension === "duration" && Math.abs(quantity.value) >= 60;
  const otherwise = dimension === "duration" && !asClock ? 1 : PLAIN_DECIMALS[dimension];
  const [said, decimals] = [decimalsSaid, decimalsFor].map((digits) =>
    Math.max(LEAST_DECIMALS[dimension] ?? 0, digits((high - low) / 2, otherwise)));
  const ofSecond = high - low > 0 && high - low < 2 ? 1 : 0;
  /** @param {number} x @param {number | undefined} [digits] */
  const show = (x, digits = decimals) => asClock ? formatClockLike(x, ofSecond) : formatNumber(x, digits ?? 0);
  const unit =
    dimension !== "duration" ? unitOf(dimension, units)
      : !asClock ? "s"
        : Math.abs(quantity.value) >= 3600 ? "h:min:s" : "min:s";
  const interval =
    high > low ? `${show(low)}${low < 0 || high < 0 ? " to " : "\u2013"}${show(high)}` : "";
  const shown = show(value, said);
  const head = unit ? `${shown}\u00a0${unit}` : shown;
  return {
    value: shown,
    unit,
    interval,
    text: interval ? `${head} (${interval})` : head,
  };
}

/**
 * A figure without an interval.
 * @param {Dimension} dimension
 * @param {number | null | undefined} value SI
 * @param {Units} units
 * @param {number} [decimals]
 * @returns {string} "6.42 km", or an en dash when there is no figure
 */
export function formatPlain(dimension, value, units, decimals = PLAIN_DECIMALS[dimension]) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "\u2013";
  if (dimension === "duration") return formatClockLike(value, decimals);
  const unit = unitOf(dimension, units);
  const shown = formatNumber(convert(dimension, value, units), decimals);
  return unit ? `${shown}\u00a0${unit}` : shown;
}
