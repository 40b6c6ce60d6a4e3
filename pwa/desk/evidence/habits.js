// @ts-check
/** What a figure's display is like, remembered: unit, last digit and rounding, per quantity. */
import { READINGS, usualResolution } from "../../shared/vocabulary.js";

/** @typedef {{ unit: string, resolution: string, rounding: string }} Habit  as the fields hold it */

const KEY = "ebbline.desk.displays";
const ROWS_KEY = "ebbline.desk.photo-figures";
/** @type {Record<string, Habit>} */
let habits = read(KEY) ?? {};

/** @param {string} key @returns {any} */
function read(key) {
  try {
    return JSON.parse(localStorage.getItem(key) ?? "null");
  } catch {
    return null; // blocked, or not ours: nothing is remembered
  }
}

/** @param {string} key @param {unknown} value */
function keep(key, value) {
  try {
    localStorage.setItem(key, JSON.stringify(value));
  } catch {
    // private windows may refuse; it holds until the page is left
  }
}

/**
 * @param {string} quantity
 * @returns {Habit} the last one used, else the usual one
 */
export function habitOf(quantity) {
  const kind = READINGS[quantity];
  const kept = habits[quantity];
  if (kept && kind?.units.includes(kept.unit)) return kept;
  const unit = kind?.units[0] ?? "";
  return { unit, resolution: String(usualResolution(quantity, unit)), rounding: kind?.rounding ?? "nearest" };
}

/**
 * @param {string} quantity
 * @param {Habit} habit
 */
export function keepHabit(quantity, habit) {
  habits = { ...habits, [quantity]: habit };
  keep(KEY, habits);
}

/** @returns {string[]} the figures last typed from photos, in their order */
export function photoFigures() {
  const kept = read(ROWS_KEY);
  const known = Array.isArray(kept) ? kept.filter((name) => name in READINGS) : [];
  return known.length ? known : ["trip_energy", "trip_distance", "soc"];
}

/** @param {string[]} quantities */
export function keepPhotoFigures(quantities) {
  keep(ROWS_KEY, quantities);
}
