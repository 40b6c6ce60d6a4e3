// @ts-check
/** For each headline figure: the moments it runs between, the evidence it stands on. */
import { formatNumber } from "../../shared/units.js";
import { howDistance, howEnergy, howMoment } from "../how/reached.js";

/** @typedef {Omit<import("../session/model.js").Model, "curves">} Model */
/** @typedef {import("../../shared/units.js").Units} Units */

/**
 * @param {string} key of the figure in the result
 * @param {Model} model
 * @param {Units} units
 * @returns {string[]}
 */
export function howHeadline(key, model, units) {
  const { zero, reserve, recharge, distance } = model.result;
  const standing = model.events.filter(({ withdrawn }) => !withdrawn);
  const zeroRow = standing.find(({ record }) => record.kind === zero.basis);
  const endRow = standing.find(({ record }) => record.id === reserve.end_event_id);
  const endMs = endRow?.atMs ?? model.events.at(-1)?.atMs ?? 0;
  const moments = [
    ...(zeroRow ? howMoment(zeroRow, model) : [zero.t_ms === null ? "No zero is on record." : `Zero is the moment ${model.clock.time(zero.t_ms)}, picked in the choices.`]),
    ...(endRow ? howMoment(endRow, model) : []),
  ];
  const charging = (/** @type {string} */ quantity) =>
    model.readings.filter(({ record, withdrawn }) => !withdrawn && record.quantity === quantity && record.value !== null).length;
  const efficiency = model.session.setup.protocol?.charging_efficiency;
  switch (key) {
    case "distance_m": return [...moments, ...howDistance(endMs, model, units)];
    case "duration_s": return moments;
    case "energy_kwh": return [...(zero.t_ms === null ? [] : ["At zero:", ...howEnergy(zero.t_ms, model).slice(0, 1)]), "At the end:", ...howEnergy(endMs, model)];
    case "share_of_usable_pct": return ["Energy past zero over the usable energy that the maker states; the statement is taken as exact."];
    case "past_zero_wh_per_km": return ["Energy past zero over the distance driven in it, both with their intervals."];
    case "total_m": return [`Distance: ${distance.method}.`, `${distance.gaps.length || "No"} ${distance.gaps.length === 1 ? "gap" : "gaps"} bridged on the way.`];
    case "trickle_s": return recharge ? [`${charging("charge_power")} readings of the charging power; the slow charging (trickle) ended between two of them, and the interval spans them.`] : ["No recharge is on record."];
    case "below_zero_kwh": return recharge ? [
      `${charging("charge_energy")} readings of energy charged and ${charging("charge_power")} of power, up to the moment the display left 0 %.`,
      typeof efficiency === "number" ? `Times the stated charging efficiency of ${formatNumber(efficiency, 2)}.` : "Times an assumed charging efficiency: enter it in the choices.",
    ] : ["No recharge is on record."];
    case "balance": return ["What was driven out below zero against what was charged before the display left 0 %: they agree when the two intervals allow each other."];
    default: return [];
  }
}
