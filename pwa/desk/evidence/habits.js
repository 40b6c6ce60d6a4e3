// @ts-check
/** What a car's displays are like, remembered by its label: unit, last digit and rounding, per quantity. */
import { lengthUnit, usualDisplay } from "../../shared/displays.js";
import { READINGS } from "../../shared/vocabulary.js";

/** @typedef {{ unit: string, resolution: string, rounding: string }} Habit  as the fields hold it */
/** @typedef {import("../session/model.js").Model} Model */

const KEY = "ebbline.desk.cars";
const ROWS_KEY = "ebbline.desk.photo-figures";
/** @type {Record<string, Record<string, Habit>>} */
let habits = read(KEY) ?? {};
let car = "";
/** as this session's own readings have them @type {Record<string, Habit>} */
let seen = {};

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

/** The car whose displays are meant, and what its session shows of them. @param {Model} model */
export function openHabits({ session, readings }) {
  car = session.setup.vehicle?.label ?? "";
  seen = Object.fromEntries(readings.filter(({ withdrawn }) => !withdrawn).map(({ record }) => [record.quantity, {
    unit: record.unit, resolution: String(record.resolution ?? ""), rounding: record.rounding ?? "nearest",
  }]));
}

/**
 * @param {string} quantity
 * @returns {Habit} the last one used with this car, else as its session has it, else the usual one
 */
export function habitOf(quantity) {
  const known = { ...seen, ...habits[car] };
  const kept = known[quantity];
  const kind = READINGS[quantity];
  if (kept && kind?.units.includes(kept.unit)) return kept;
  const { unit, resolution } = usualDisplay(quantity, lengthUnit(known) ?? "km");
  return { unit, resolution: String(resolution), rounding: kind?.rounding ?? "nearest" };
}

/**
 * @param {string} quantity
 * @param {Habit} habit
 */
export function keepHabit(quantity, habit) {
  habits = { ...habits, [car]: { ...habits[car], [quantity]: habit } };
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
