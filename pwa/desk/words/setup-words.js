// @ts-check
/** What differs between two set-ups, in the words of the choices instead of the file's keys. */
import { zeroName } from "../../shared/vocabulary.js";
import { CHOICE_NAMES, shownAs } from "./setup-fields.js";

/** @typedef {import("../session/clock.js").SessionClock} SessionClock */

/** @type {Record<string, string>} */
const NAMES = {
  ...CHOICE_NAMES, "vehicle.label": "Car",
  excluded: "Positions left out",
  "protocol.zero_basis": "Zero is", "protocol.zero_ms": "Moment picked as zero", "protocol.reserve_end": "The reserve ends at", "protocol.which_end": "With a restart between, it ends at",
  "protocol.tap_delay_s.mean": "Mean tap delay, s", "protocol.tap_delay_s.sd": "Give or take, s (95 %)",
  "protocol.charging_efficiency": "Charging efficiency",
  "session.started_at": "Start", "session.time_zone": "Time zone", "session.notes": "Notes", "session.id": "Session",
  "course.closed": "Closed course",
};
/** @type {Record<string, string>} units at the end of a key that has no words of its own */
const UNITS = { m: "m", km: "km", s: "s", ms: "ms", kwh: "kWh", kmh: "km/h", mps: "m/s", pct: "%", c: "\u00b0C", deg: "\u00b0" };

/**
 * @param {unknown} before
 * @param {unknown} after
 * @param {SessionClock} clock
 * @returns {[string, string, string][]} what it is, as it was, as it is, where they differ
 */
export function setupDifferences(before, after, clock) {
  const [was, now] = [leaves(before, clock), leaves(after, clock)];
  return [...new Set([...was.keys(), ...now.keys()])]
    .filter((path) => was.get(path) !== now.get(path) && !path.startsWith("revised."))
    .map((path) => [nameOf(path), was.get(path) ?? absent(path), now.get(path) ?? absent(path)]);
}

/** @param {string} path */
function absent(path) {
  return path === "excluded" ? "none" : "not stated";
}

/** @param {string} path "protocol.zero_basis" */
function nameOf(path) {
  const known = NAMES[path];
  if (known) return known;
  const [, device, part] = /^devices\.(.+)\.(\w+)$/.exec(path) ?? [];
  if (part === "clock_offset_ms") return `Added to the times of ${device}, ms`;
  const [, stem = path, suffix = ""] = /^(.+)_([a-z]+)$/.exec(path) ?? [];
  const unit = UNITS[suffix];
  const words = (unit ? stem : path).replace(/^devices\./, "device ").replaceAll(".", ", ").replaceAll("_", " ");
  return `${words.charAt(0).toUpperCase()}${words.slice(1)}${unit ? `, ${unit}` : ""}`;
}

/**
 * @param {unknown} value
 * @param {SessionClock} clock
 * @param {string} path
 * @param {Map<string, string>} found
 * @returns {Map<string, string>} "protocol.tap_delay_s.mean" to "0.9"
 */
function leaves(value, clock, path = "", found = new Map()) {
  if (path === "excluded" && Array.isArray(value)) {
    if (value.length) found.set(path, value.map((one) => stretch(one, clock)).join("; "));
  } else if (path === "devices" && Array.isArray(value)) {
    for (const { id, ...device } of value) leaves(device, clock, `${path}.${id}`, found);
  } else if (value !== null && typeof value === "object") {
    for (const [key, part] of Object.entries(value)) leaves(part, clock, path ? `${path}.${key}` : key, found);
  } else if (value !== null && value !== undefined) {
    found.set(path, valueWords(path, value, clock));
  }
  return found;
}

/** @param {import("../session/documents").Exclusion} one @param {SessionClock} clock */
function stretch({ device, from_ms: fromMs, to_ms: toMs, reason }, clock) {
  return `${device}, ${clock.time(fromMs)} to ${clock.time(toMs)}${reason ? ` (${reason})` : ""}`;
}

/** @param {string} path @param {unknown} value @param {SessionClock} clock */
function valueWords(path, value, clock) {
  if (typeof value === "boolean") return value ? "yes" : "no";
  if (path === "protocol.zero_basis" || path === "protocol.reserve_end") return `\u201c${zeroName(String(value))}\u201d`;
  if (path === "protocol.which_end") return `the ${value} one`;
  if (path === "protocol.zero_ms" && typeof value === "number") return clock.time(value, 1);
  return typeof value === "number" ? shownAs(path, value).replace("-", "\u2212") : String(value);
}
