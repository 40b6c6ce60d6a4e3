// @ts-check
/** What this phone remembers of its user's choices; lost preferences never cost a record. */
import { READINGS, usualResolution } from "../../shared/vocabulary.js";

const KEY = "ebbline.capture";

/** @typedef {import("./types").Prefs} Prefs */
/** @typedef {import("./types").DisplayChoice} DisplayChoice */

/**
 * @param {Pick<Storage, "getItem" | "setItem">} storage
 * @param {"day" | "night"} systemTheme
 */
export function openPrefs(storage, systemTheme) {
  /** @type {Partial<Prefs>} */
  let kept = {};
  try {
    kept = JSON.parse(storage.getItem(KEY) ?? "{}") ?? {};
  } catch {
    // blocked or damaged: start from the defaults
  }
  /** @type {Prefs} */
  const prefs = {
    theme: kept.theme ?? systemTheme,
    hand: kept.hand ?? "right",
    sound: kept.sound ?? true,
    displays: kept.displays ?? {},
    steppers: kept.steppers ?? {},
  };
  return {
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
  };
}

/** @typedef {ReturnType<typeof openPrefs>} PrefsBook */

/**
 * How the car shows this quantity: as last entered, else as is usual.
 * @param {Readonly<Prefs>} prefs
 * @param {string} quantity
 * @param {"km" | "mi"} distanceUnit
 * @returns {DisplayChoice}
 */
export function displayChoice(prefs, quantity, distanceUnit) {
  const kept = prefs.displays[quantity];
  if (kept) return kept;
  const kind = READINGS[quantity];
  const units = kind?.units ?? [""];
  const miles = kind?.per_mile ?? "mi";
  const unit = distanceUnit === "mi" && units.includes(miles) ? miles : (units[0] ?? "");
  return { unit, resolution: usualResolution(quantity, unit) };
}
