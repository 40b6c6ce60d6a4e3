// @ts-check
/** One line for whoever watched the car's own trip meter: what it showed, and why ours differs. */
import { formatNumber, formatPlain, formatQuantity } from "../../shared/units.js";
import { eventName } from "../../shared/vocabulary.js";
import { readingValue } from "./wording.js";

/** @typedef {Omit<import("../session/model.js").Model, "curves">} Model */
/** @typedef {import("../../shared/units.js").Units} Units */

/**
 * @param {Model} model
 * @param {Units} units
 * @returns {string} empty where nobody noted the trip meter, or nothing is past zero
 */
export function shownLine({ result, readings }, units) {
  const { shown, reserve, zero, trip_check: check } = result;
  if (!shown || (!reserve.distance_m && !reserve.energy_kwh)) return "";
  const figures = shown.reading_ids.flatMap((id) => readings.filter(({ record }) => record.id === id))
    .map(({ record }) => readingValue(record)).join(" and ");
  const reset = shown.reset_after_zero_m;
  const from = zeroWords(zero.basis);
  const end = eventName(reserve.ends_at ?? "propulsion_off").toLowerCase();
  const off = check ? (check.ratio.value - 1) * 100 : null;
  return [
    `At the end the car\u2019s own trip meter showed ${figures}`,
    reset ? `; it was reset ${formatPlain("distance", Math.abs(reset.value), units)} ${reset.value < 0 ? "before" : "after"} ${from}.` : ".",
    ` Ours runs from ${from} to \u201c${end}\u201d`,
    reset ? "; the meter from its reset to where it was read" : "",
    off === null ? "." : `, and it counts ${formatNumber(Math.abs(off), 2)}\u00a0% ${off < 0 ? "less" : "more"} than ours.`,
    ...otherZero(reserve.from_zero_range, "zero_range", units), ...otherZero(reserve.from_zero_soc, "zero_soc", units),
  ].join("");
}

/** @param {string | null} basis */
function zeroWords(basis) {
  if (basis === "moment") return "a chosen moment";
  return basis ? `\u201c${eventName(basis)}\u201d` : "zero";
}

/**
 * @param {import("../session/documents").FromOtherZero | null} other
 * @param {string} kind
 * @param {Units} units
 */
function otherZero(other, kind, units) {
  const figures = [formatQuantity("distance", other?.distance_m, units), formatQuantity("energy", other?.energy_kwh, units)]
    .flatMap((figure) => (figure ? [figure.text] : []));
  return figures.length ? [` Counted from ${zeroWords(kind)} it is ${figures.join(" and ")}.`] : [];
}
