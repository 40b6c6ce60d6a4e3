// @ts-check
/** The choices as plain fields: where each stands in the set-up and what it may hold. */
import { COVERAGE_95 } from "../../shared/measures.js";
import { FACTS } from "../../shared/facts.js";

/** @typedef {import("../session/documents").Setup} Setup */
/**
 * @typedef {object} FieldKind
 * @property {string} name of the field, also the end of its id
 * @property {string} path in the set-up
 * @property {string} words
 * @property {string} [unit]
 * @property {"number" | "text"} kind
 * @property {number} [above] the value must be above this
 */

/** @type {FieldKind[]} what else can be chosen of session, course and plan, folded */
export const FURTHER = [
  { name: "title", path: "session.title", words: "Title", kind: "text" },
  { name: "course_label", path: "course.label", words: "Course", kind: "text" },
  { name: "surveyed_lap_m", path: "course.surveyed_lap_m", words: "Surveyed lap", unit: "m", kind: "number", above: 0 },
  { name: "surveyed_lap_sd_m", path: "course.surveyed_lap_sd_m", words: "Its accuracy \u00b1", unit: "m (95 %)", kind: "number" },
  { name: "grade", path: "course.full_throttle_grade_pct", words: "Grade where the throttle is floored", unit: "%, uphill positive", kind: "number" },
  { name: "grade_sd", path: "course.full_throttle_grade_sd_pct", words: "Its accuracy \u00b1", unit: "% (95 %)", kind: "number" },
  { name: "gate_lat", path: "course.gate.lat", words: "Start line, latitude", unit: "\u00b0", kind: "number" },
  { name: "gate_lon", path: "course.gate.lon", words: "Start line, longitude", unit: "\u00b0", kind: "number" },
  { name: "gate_heading", path: "course.gate.heading_deg", words: "Start line, heading across it", unit: "\u00b0", kind: "number" },
  { name: "gate_half", path: "course.gate.half_width_m", words: "Start line, half its width", unit: "m", kind: "number", above: 0 },
  { name: "start_soc_pct", path: "protocol.start_soc_pct", words: "Planned start", unit: "%", kind: "number" },
  { name: "speed_low", path: "protocol.speed_band_kmh.0", words: "Speed band, from", unit: "km/h", kind: "number" },
  { name: "speed_high", path: "protocol.speed_band_kmh.1", words: "Speed band, to", unit: "km/h", kind: "number", above: 0 },
  { name: "held_speed", path: "protocol.held_speed_kmh", words: "Ask when this speed was last held", unit: "km/h", kind: "number", above: 0 },
  { name: "reading_delay", path: "protocol.reading_delay_s.mean", words: "Readings noted late by", unit: "s", kind: "number" },
  { name: "reading_delay_sd", path: "protocol.reading_delay_s.sd", words: "Give or take", unit: "s (95 %)", kind: "number" },
];

/** What each choice is called, with its unit, by its place in the set-up. @type {Record<string, string>} */
export const CHOICE_NAMES = Object.fromEntries([
  ...FURTHER.map(({ path, words, unit }) => [path, unit ? `${words}, ${unit}` : words]),
  ...Object.entries(FACTS).map(([path, { name, unit }]) => [path, unit ? `${name}, ${unit}` : name]),
]);


/**
 * What is shown for one of what is stored: of a standard deviation the half width of its 95 % interval.
 * @param {string} path
 */
export const scaleOf = (path) => (FACTS[path]?.spread || /(\.sd|_sd_m|_sd_pct)$/.test(path) ? COVERAGE_95 : 1);

/** @param {string} path @param {unknown} value @returns {string} as a field shows it; empty where nothing is stated */
export function shownAs(path, value) {
  if (typeof value !== "number") return String(value ?? "");
  return scaleOf(path) === 1 ? String(value) : String(Number((value * scaleOf(path)).toPrecision(4)));
}

/**
 * @param {Setup} setup
 * @param {Map<string, unknown>} changes path to value; null takes the statement away.
 *   "devices.ID.clock_offset_ms" stands for the device of that id
 * @returns {Setup} a new set-up; everything else as it was, unknown keys included
 */
export function withChanges(setup, changes) {
  const next = structuredClone(setup);
  for (const [path, value] of changes) {
    if (path.startsWith("devices.")) {
      const id = path.slice("devices.".length, -".clock_offset_ms".length);
      next.devices ??= [];
      let device = next.devices.find((one) => one.id === id);
      if (!device) next.devices.push(device = { id });
      device.clock_offset_ms = /** @type {number | null} */ (value);
      continue;
    }
    const keys = path.split(".");
    const last = keys.pop() ?? "";
    /** @type {any} */
    let part = next;
    keys.forEach((key, i) => {
      part = part[key] ??= /^\d+$/.test(keys[i + 1] ?? last) ? [] : {};
    });
    if (value === null) delete part[last];
    else part[last] = value;
  }
  const load = /** @type {any} */ (next.vehicle)?.road_load;
  if (load && Object.keys(load).length === 0) delete (/** @type {any} */ (next.vehicle)).road_load;
  return next;
}
