// @ts-check
/** The pack's voltage at the turns of the story, as lines of names and figures. */
import { formatNumber } from "../../shared/units.js";

/** @typedef {import("../../shared/units.js").Quantity} Quantity */

/** @type {Record<import("../session/documents").PackVoltage["moment"], string>} */
const WORDS = {
  shut_off: "Battery voltage at shut-off", rested: "Battery voltage at rest",
  precharged: "Battery voltage once connected again (after precharge)", trickle: "Battery voltage while it charges slowly (trickle)",
};

/**
 * @param {import("../session/documents").PackVoltage[]} entries
 * @returns {[string, string][]}
 */
export function voltageLines(entries) {
  return entries.map(({ moment, volts, per_cell_v: perCell }) => [
    WORDS[moment],
    `${interval(volts, 1)}\u00a0V${perCell ? `; ${interval(perCell, 3)}\u00a0V per cell` : ""}`,
  ]);
}

/** @param {Quantity} quantity @param {number} decimals */
function interval({ value, low, high }, decimals) {
  return `${formatNumber(value, decimals)} (${formatNumber(low, decimals)}\u2013${formatNumber(high, decimals)})`;
}
