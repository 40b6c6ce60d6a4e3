// @ts-check
/** What earlier sessions know of cars and warnings, asked for once and only where it is wanted. */
import { request } from "../../shared/api.js";

/** @typedef {import("../../shared/facts.js").Car & { saved_ms: number }} KnownCar */
/** @typedef {{ text: string, class: string }} KnownWarning */
/** @typedef {{ cars: KnownCar[], warnings: KnownWarning[] }} Known */

/** @type {Promise<Known> | null} */
let asked = null;

/** @returns {Promise<Known>} nothing where the server can't say: proposals are no need */
export function known() {
  asked ??= request("/known").catch(() => {
    asked = null;
    return { cars: [], warnings: [] };
  });
  return /** @type {Promise<Known>} */ (asked);
}

/** Something was stated that may be proposed from now on. */
export function forgetKnown() {
  asked = null;
}
