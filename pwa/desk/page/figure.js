// @ts-check
/** One figure with its interval, wherever it stands: the same three parts, sized by CSS. */
import { convert, formatNumber, formatQuantity, unitOf } from "../../shared/units.js";
import { el } from "./dom.js";

/** @typedef {import("../../shared/units.js").Dimension} Dimension */
/** @typedef {import("../../shared/units.js").Formatted} Formatted */
/** @typedef {import("../../shared/units.js").Quantity} Quantity */
/** @typedef {import("../../shared/units.js").Units} Units */
/** @typedef {{ value: number | null, low: number | null, high: number | null }} Bounds SI; of which bounds alone may be known */

const NO_INTERVAL = "no interval";

/** @param {Bounds | null | undefined} told @returns {Quantity | null} where all of it is known */
export function whole(told) {
  if (!told || told.value === null || told.low === null || told.high === null) return null;
  return { value: told.value, low: told.low, high: told.high };
}

/**
 * @param {Dimension} dimension
 * @param {Bounds | null | undefined} told
 * @param {Units} units
 * @returns {string}
 */
export function figureWords(dimension, told, units) {
  return shownAs(dimension, told, units)?.text ?? "not known";
}

/**
 * @param {Dimension} dimension
 * @param {Bounds | null | undefined} told SI
 * @param {Units} units
 * @param {{ unit?: boolean, aside?: string | undefined }} [options] unit false where a column's head carries it; aside: in place of an interval that isn't known
 * @returns {HTMLSpanElement}
 */
export function figure(dimension, told, units, { unit = true, aside } = {}) {
  const shown = shownAs(dimension, told, units);
  if (!shown) {
    return el("span", { class: "figure figure-unknown" },
      el("span", { class: "figure-value", "aria-hidden": "true" }, "\u2013"),
      el("span", { class: "visually-hidden" }, "not known"));
  }
  const beside = shown.interval === NO_INTERVAL ? aside ?? NO_INTERVAL : shown.interval;
  return el("span", { class: "figure" },
    el("span", { class: "figure-value" }, shown.value,
      unit && shown.unit && el("span", { class: "figure-unit" }, `\u00a0${shown.unit}`)),
    " ",
    beside && el("span", { class: "figure-interval" }, beside));
}

/**
 * @param {Dimension} dimension
 * @param {Bounds | null | undefined} told
 * @param {Units} units
 * @returns {Formatted | null}
 */
function shownAs(dimension, told, units) {
  const known = whole(told);
  if (known) return formatQuantity(dimension, known, units);
  if (!told) return null;
  if (told.value !== null) {
    const plain = formatQuantity(dimension, { value: told.value, low: told.value, high: told.value }, units);
    return plain && { ...plain, interval: NO_INTERVAL, text: `${plain.text}, ${NO_INTERVAL}` };
  }
  const unit = unitOf(dimension, units);
  const number = (/** @type {number} */ end) => formatNumber(convert(dimension, end, units), dimension === "percent" ? 1 : 2);
  const value = told.low !== null && told.high !== null ? `${number(told.low)} to ${number(told.high)}`
    : told.high !== null ? `at most ${number(told.high)}` : told.low !== null ? `at least ${number(told.low)}` : null;
  return value === null ? null : { value, unit, interval: "", text: unit ? `${value}\u00a0${unit}` : value };
}
