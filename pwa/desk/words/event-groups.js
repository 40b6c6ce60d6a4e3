// @ts-check
/** Events by what they tell of, for filtering flags and ladder, and the few words on a flag. */
import { formatNumber } from "../../shared/units.js";
import { EVENT_NAMES, eventName } from "../../shared/vocabulary.js";

/** @typedef {import("../session/documents").RawEvent} RawEvent */

const DISPLAY = ["soc_step", "zero_soc", "zero_range", "trip_reset"];
const LIMITS = ["floored_on", "floored_off", "speed_capped", "power_limited", "assist_change", "comfort_cut"];
const END = ["hazards_on", "propulsion_off", "standstill", "contactors_open", "contactors_closed"];
const CHARGE = ["plug_in", "charge_start", "charge_end"];
const NAMED = new Set([...DISPLAY, ...LIMITS, ...END, ...CHARGE, "warning"]);

/** @type {[string, string, (kind: string) => boolean][]} name, words, whether a kind is of it */
export const EVENT_GROUPS = [
  ["all", "All events", () => true],
  ["warning", "Warnings", (kind) => kind === "warning"],
  ["display", "Display and trip", (kind) => DISPLAY.includes(kind)],
  ["limits", "Limits and throttle", (kind) => LIMITS.includes(kind)],
  ["end", "Shut-off", (kind) => END.includes(kind)],
  ["charge", "Charging", (kind) => CHARGE.includes(kind)],
  ["other", "Notes and marks", (kind) => !NAMED.has(kind)],
];

/**
 * @param {string} group
 * @returns {(kind: string) => boolean}
 */
export function inGroup(group) {
  return EVENT_GROUPS.find(([name]) => name === group)?.[2] ?? (() => true);
}

const STRONG = new Set(["zero_soc", "zero_range", "plug_in", "trip_reset", "speed_capped"]);
const ALARM = new Set(["propulsion_off", "standstill", "contactors_open"]);

/**
 * @param {string} kind
 * @returns {"plain" | "strong" | "alarm"}
 */
export function flagTone(kind) {
  return ALARM.has(kind) ? "alarm" : STRONG.has(kind) ? "strong" : "plain";
}

/**
 * @param {RawEvent} record
 * @returns {string} a flag's few words
 */
export function flagWords(record) {
  if (record.kind === "soc_step" && typeof record.value === "number") return `${formatNumber(record.value, 0)} %`;
  if (record.kind === "speed_capped" && typeof record.value === "number") {
    return `capped ${formatNumber(record.value, 0)} ${record.unit ?? ""}`.trim();
  }
  if (record.kind === "zero_soc") return "0 %";
  if (record.kind === "zero_range") return "0 range";
  if (record.kind === "note" || !(record.kind in EVENT_NAMES)) return "";
  return eventName(record.kind).toLowerCase();
}
