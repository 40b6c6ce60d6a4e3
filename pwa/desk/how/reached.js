// @ts-check
/** How a figure was reached, in words: the tap and its delay, the readings used, the gaps on the way. */
import { formatNumber, formatPlain, formatQuantity } from "../../shared/units.js";
import { eventName, readingName } from "../../shared/vocabulary.js";
import { clockOffsets } from "../session/clock.js";
import { readingMeaning, readingValue } from "../words/wording.js";

/** @typedef {Omit<import("../session/model.js").Model, "curves">} Model */
/** @typedef {import("../session/model.js").EventRow} EventRow */
/** @typedef {import("../../shared/units.js").Units} Units */

const ENERGY = new Set(["trip_energy", "mean_consumption"]);

/**
 * @param {EventRow} row
 * @param {Model} model
 * @returns {string[]}
 */
export function howMoment({ record, entry, atMs }, model) {
  const offsetMs = clockOffsets(model.session)(record.device);
  const own = record.tap_delay_s;
  const stated = own ?? model.session.setup.protocol?.tap_delay_s;
  const delay = typeof stated === "number" ? { mean: stated, sd: 0 } : stated;
  const words = delay
    ? `${formatNumber(delay.mean, 1)} \u00b1 ${formatNumber(1.96 * delay.sd, 1)} s later than what it reports (${own ? "its own delay" : "the plan\u2019s delay"})`
    : "later than what it reports by the usual delay, since the plan states none";
  const spread = entry ? ` \u00b1 ${formatNumber((entry.at_ms.high - entry.at_ms.low) / 2000, 1)} s` : "";
  return [
    `\u201c${eventName(record.kind)}\u201d was ${record.device === "desk" ? "placed at the desk" : `tapped on ${record.device}`} at ${model.clock.time(record.t_ms, 1)}${offsetMs ? `, its clock put right by ${formatNumber(offsetMs / 1000, 2)} s` : ""}.`,
    `That is ${words}: the estimated moment is ${model.clock.time(atMs, 1)}${spread}.`,
    ...(record.corrects ? ["It replaces an earlier record, which the history shows."] : []),
  ];
}

/**
 * @param {number} atMs
 * @param {Model} model
 * @param {Units} units
 * @returns {string[]}
 */
export function howDistance(atMs, model, units) {
  const { distance, zero } = model.result;
  const from = zero.t_ms ?? -Infinity;
  const [first, last] = [Math.min(from, atMs), Math.max(from, atMs)];
  const gaps = distance.gaps.filter((gap) => gap.from_ms < last && gap.to_ms > first);
  const lasting = gaps.reduce((sum, gap) => sum + gap.to_ms - gap.from_ms, 0) / 1000;
  return [
    `Distance: ${distance.method}.`,
    gaps.length === 0 ? "No gap in the positions lies between zero and here."
      : `${gaps.length} ${gaps.length === 1 ? "gap" : "gaps"} between zero and here, ${formatNumber(lasting, 0)} s in all, bridged: ${gaps.slice(0, 3).map((gap) => `${formatQuantity("distance", gap.bridged_m, units)?.text} at ${model.clock.time(gap.from_ms)}`).join("; ")}${gaps.length > 3 ? " and more" : ""}.`,
    distance.polyline_m === null ? "" : `Straight lines between all positions would make ${formatPlain("distance", distance.polyline_m, units, 3)}.`,
  ].filter(Boolean);
}

/**
 * @param {number} atMs
 * @param {Model} model
 * @returns {string[]}
 */
export function howEnergy(atMs, model) {
  const used = model.readings.filter(({ record, withdrawn }) => !withdrawn && ENERGY.has(record.quantity) && record.value !== null);
  if (used.length === 0) return ["No reading of energy bounds it."];
  const tell = (/** @type {import("../session/model.js").ReadingRow} */ row) =>
    `${readingName(row.record.quantity).toLowerCase()} ${readingValue(row.record)} (${readingMeaning(row.record)}) at ${model.clock.time(row.atMs)}${row.record.photo ? ", from a photo" : ""}`;
  const before = used.filter((row) => row.atMs <= atMs).at(-1);
  const after = used.find((row) => row.atMs > atMs);
  return [
    `Energy: ${used.length} readings are its bounds. ${before ? `Before: ${tell(before)}.` : "None lies before."} ${after ? `After: ${tell(after)}.` : "None lies after: it is extrapolated, and its interval grows."}`,
    "Between readings it follows the work that the speed calls for, with an uncertainty learned from the readings.",
  ];
}
