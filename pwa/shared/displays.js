// @ts-check
/** How a car's display shows its figures: what is known of one says something of the others. Pure. */
import { READINGS, usualResolution } from "./vocabulary.js";

/** @typedef {{ unit: string, resolution: number }} Display of one quantity */

/**
 * @param {Record<string, { unit: string }>} displays of one car, by quantity
 * @returns {"km" | "mi" | null} in which it shows lengths; null: not known
 */
export function lengthUnit(displays) {
  const units = Object.values(displays).map(({ unit }) => unit);
  return units.includes("mi") ? "mi" : units.includes("km") ? "km" : null;
}

/**
 * @param {string} quantity
 * @param {"km" | "mi"} distance that the car shows, or its reader prefers
 * @returns {Display} as is usual
 */
export function usualDisplay(quantity, distance) {
  const kind = READINGS[quantity];
  const units = kind?.units ?? [""];
  const miles = kind?.per_mile ?? "mi";
  const unit = distance === "mi" && units.includes(miles) ? miles : (units[0] ?? "");
  return { unit, resolution: usualResolution(quantity, unit) };
}

/**
 * @template T
 * @param {Record<string, T>} displays by quantity
 * @returns {Record<string, T>} without those whose unit goes by the distance's
 */
export const withoutLengths = (displays) =>
  Object.fromEntries(Object.entries(displays).filter(([quantity]) => {
    const kind = READINGS[quantity];
    return !kind?.per_mile && !kind?.units.includes("mi");
  }));
