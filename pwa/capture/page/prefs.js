// @ts-check
/** What this phone remembers of its user's choices; lost preferences never cost a record. */
import { lengthUnit, usualDisplay, withoutLengths } from "../../shared/displays.js";

const KEY = "ebbline.capture";

/** @typedef {import("./types").Prefs} Prefs */
/** @typedef {import("./types").DisplayChoice} DisplayChoice */

/**
 * @param {Pick<Storage, "getItem" | "setItem">} storage
 */
export function openPrefs(storage) {
  /** @type {Partial<Prefs>} */
  let kept = {};
  try {
    kept = JSON.parse(storage.getItem(KEY) ?? "{}") ?? {};
  } catch {
    // blocked or damaged: start from the defaults
  }
  /** @type {Prefs} */
  const prefs = {
    theme: kept.theme ?? "system",
    hand: kept.hand ?? "right",
    sound: kept.sound ?? true,
    listens: kept.listens ?? false,
    cars: kept.cars ?? {},
    steppers: kept.steppers ?? {},
  };
  let car = "";
  const book = {
    /** @returns {Readonly<Prefs>} */
    get: () => prefs,
    /** @param {Partial<Prefs>} change */
    set(change) {
      Object.assign(prefs, change);
      try {
        storage.setItem(KEY, JSON.stringify(prefs));
      } catch {
        // a full or blocked storage costs the memory of a choice, nothing more
      }
    },
    /** Displays are remembered by the car that has them. @param {string} label */
    drives(label) {
      car = label;
    },
    /** @returns {Readonly<Record<string, DisplayChoice>>} of the car in hand, by quantity */
    displays: () => prefs.cars[car] ?? {},
    /** @param {string} quantity @param {DisplayChoice} choice */
    keepDisplay: (quantity, choice) =>
      book.set({ cars: { ...prefs.cars, [car]: { ...prefs.cars[car], [quantity]: choice } } }),
    /** Its lengths are shown in another unit than was thought. */
    forgetLengths: () => book.set({ cars: { ...prefs.cars, [car]: withoutLengths(prefs.cars[car] ?? {}) } }),
  };
  return book;
}

/** @typedef {ReturnType<typeof openPrefs>} PrefsBook */

/**
 * How the car in hand shows this quantity: as last entered, else as is usual with its unit of
 * lengths.
 * @param {PrefsBook} prefs
 * @param {string} quantity
 * @param {"km" | "mi"} distanceUnit of the phone's user, where nothing is known of the car
 * @returns {DisplayChoice}
 */
export function displayChoice(prefs, quantity, distanceUnit) {
  const displays = prefs.displays();
  return displays[quantity] ?? usualDisplay(quantity, lengthUnit(displays) ?? distanceUnit);
}
