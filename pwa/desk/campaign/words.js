// @ts-check
/** Figures of a comparison in words: those of which bounds alone are known, too. */
import { convert, formatNumber, formatQuantity, unitOf } from "../../shared/units.js";
import { EVENTS } from "../../shared/vocabulary.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";

/** @typedef {import("./documents").Figure} Figure */
/** @typedef {import("../../shared/units.js").Dimension} Dimension */
/** @typedef {import("../../shared/units.js").Units} Units */
/** @typedef {import("../../shared/units.js").Quantity} Quantity */

export const BEFORE_ZERO = "shut down before zero";

/** A way past zero, which a car that never came to zero hasn't. @param {import("./documents").ComparedSession} row @returns {Figure} */
export function distanceOf({ reserve_m: told, shut_down_before_zero: before }) {
  return before && !whole(told) ? null : told;
}

/** @param {Figure} told @returns {Quantity | null} where all of it is known */
export function whole(told) {
  if (!told || told.value === null || told.low === null || told.high === null) return null;
  return { value: told.value, low: told.low, high: told.high };
}

/**
 * @param {Dimension} dimension
 * @param {Figure} told
 * @param {Units} units
 * @param {{ unit?: boolean }} [options] unit false where a column's head carries it
 * @returns {string}
 */
export function figureWords(dimension, told, units, options) {
  const known = whole(told);
  if (known) return formatQuantity(dimension, known, units)?.text ?? "not known";
  if (!told) return "not known";
  const unit = options?.unit === false ? "" : unitOf(dimension, units);
  const number = (/** @type {number} */ value) => formatNumber(convert(dimension, value, units), dimension === "percent" ? 1 : 2);
  /** @param {number} value */
  const show = (value) => `${number(value)}\u00a0${unit}`.trim();
  if (told.value !== null) return `${show(told.value)} (how sure isn\u2019t known)`;
  if (told.low !== null && told.high !== null) return `${number(told.low)} to ${show(told.high)}`;
  if (told.high !== null) return `at most ${show(told.high)}`;
  return told.low !== null ? `at least ${show(told.low)}` : "not known";
}

/**
 * @param {Dimension} dimension
 * @param {Figure} told
 * @param {Units} units
 * @param {{ unit?: boolean }} [options]
 */
export function figureCell(dimension, told, units, options) {
  const known = whole(told);
  if (known || !told) return figure(dimension, known, units, options);
  return el("span", { class: "figure" }, figureWords(dimension, told, units, options));
}

/** @param {string} name of a class of warnings */
export function className(name) {
  const words = EVENTS.warning?.choices?.words[name] ?? name.replaceAll("_", " ");
  return words.charAt(0).toUpperCase() + words.slice(1);
}

/** @param {boolean | null} agrees @returns {HTMLElement} never by colour alone */
export function verdict(agrees) {
  const [tone, sign, words] = agrees === null ? ["soft", "\u25cb", "can\u2019t be told"]
    : agrees ? ["good", "\u25cf", "agree within their doubt"] : ["alarm", "\u25b2", "apart by more than their doubt"];
  return el("span", { class: `verdict-${tone}` }, el("span", { "aria-hidden": "true" }, `${sign} `), words);
}

/** @param {string | null} stamp RFC 3339 @returns {string} the day by the session's own clock */
export function day(stamp) {
  const match = /^(\d{4})-(\d\d)-(\d\d)/.exec(stamp ?? "");
  if (!match) return "\u2013";
  return new Intl.DateTimeFormat("en-GB", { timeZone: "UTC", day: "numeric", month: "short", year: "numeric" })
    .format(new Date(Date.UTC(Number(match[1]), Number(match[2]) - 1, Number(match[3]))));
}
