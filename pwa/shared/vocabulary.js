// @ts-check
/** Words and units for what a session records: one wording for phone and desk. */

/** @typedef {"before" | "past" | "fading" | "off" | "charging"} Phase */
/**
 * A row of the table, as ebbline/vocabulary/kinds.py describes it. What says nothing is left out.
 * @typedef {object} EventKind
 * @property {string} name
 * @property {string} group
 * @property {Key} key
 * @property {string} [short]
 * @property {{ units: readonly string[], low?: number, high?: number }} [value]
 * @property {Choices} [choices]
 * @property {string} emphasis
 * @property {boolean} [rung]
 * @property {number} [landmark]
 * @property {boolean} [alert]
 */
/** @typedef {{ words: Readonly<Record<string, string>>, key: string }} Choices */
/**
 * @typedef {object} Key
 * @property {string} label
 * @property {string} hint
 * @property {string} tone
 * @property {string} glyph
 * @property {{ [phase in Phase]?: number }} [places]
 * @property {Ask} [ask]
 * @property {string} [switch]
 * @property {boolean} [once]
 * @property {string} [enters]
 */
/** @typedef {{ question: string, steps?: readonly number[], most?: number }} Ask */
/**
 * @typedef {object} ReadingKind
 * @property {string} name
 * @property {readonly string[]} units
 * @property {number} resolution
 * @property {{ [unit: string]: number }} [resolution_in]
 * @property {string} rounding
 * @property {number} [low]
 * @property {number} [high]
 * @property {boolean} [on_pad]
 * @property {{ [phase in Phase]?: number }} [places]
 * @property {string} [per_mile]
 */

/** @type {Readonly<Record<string, string>>} event kind to words */
export const EVENT_NAMES = {
  soc_step: "Displayed % stepped",
  zero_soc: "0 % shown",
  zero_range: "0 range shown",
  trip_reset: "Trip reset",
  warning: "Warning",
  floored_on: "Throttle floored",
  floored_off: "Throttle released",
  speed_capped: "Top speed capped",
  power_limited: "Power limited",
  assist_change: "Assistance changed",
  comfort_cut: "Comfort reduced",
  hazards_on: "Hazard lights on",
  propulsion_off: "Propulsion off",
  standstill: "Standstill",
  contactors_open: "Contactors open",
  contactors_closed: "Contactors closed",
  plug_in: "Plugged in",
  charge_start: "Charging starts",
  charge_end: "Charging ends",
  lap_mark: "Lap mark",
  film_sync: "Film sync",
  note: "Note",
};

/**
 * Units an event's value may have; the first is the usual one.
 * @type {Readonly<Record<string, readonly string[]>>}
 */
export const EVENT_VALUE_UNITS = {
  soc_step: ["%"],
  speed_capped: ["km/h", "mph"],
  film_sync: ["s"],
};

/**
 * @typedef {object} UsualReading
 * @property {string} name
 * @property {readonly string[]} units the first is the usual one
 * @property {number} resolution usual last digit of the display, in the first unit
 */

/** @type {Readonly<Record<string, UsualReading>>} */
export const READING_KINDS = {
  trip_energy: { name: "Trip energy", units: ["kWh"], resolution: 0.1 },
  trip_distance: { name: "Trip distance", units: ["km", "mi"], resolution: 0.1 },
  mean_consumption: {
    name: "Mean consumption",
    units: ["kWh/100km", "Wh/km", "Wh/mi", "mi/kWh", "km/kWh"],
    resolution: 0.1,
  },
  soc: { name: "Displayed %", units: ["%"], resolution: 1 },
  range_shown: { name: "Range shown", units: ["km", "mi"], resolution: 1 },
  power_available: { name: "Power available", units: ["kW", "%"], resolution: 1 },
  pack_voltage: { name: "Pack voltage", units: ["V"], resolution: 1 },
  cell_voltage_min: { name: "Lowest cell voltage", units: ["V"], resolution: 0.001 },
  cell_voltage_max: { name: "Highest cell voltage", units: ["V"], resolution: 0.001 },
  charge_power: { name: "Charging power", units: ["kW"], resolution: 0.1 },
  charge_energy: { name: "Energy charged", units: ["kWh"], resolution: 0.1 },
  battery_temperature: { name: "Battery temperature", units: ["degC"], resolution: 1 },
  ambient_temperature: { name: "Outside temperature", units: ["degC"], resolution: 1 },
  odometer: { name: "Odometer", units: ["km", "mi"], resolution: 1 },
};

/**
 * @param {string} kind
 * @returns {string} words for an event kind; one we don't know is shown as it is written
 */
export function eventName(kind) {
  return EVENT_NAMES[kind] ?? kind.replaceAll("_", " ");
}

/**
 * @param {string} quantity
 * @returns {string} words for a reading's quantity
 */
export function readingName(quantity) {
  return READING_KINDS[quantity]?.name ?? quantity.replaceAll("_", " ");
}

/**
 * @param {string | null | undefined} unit as written in a record
 * @returns {string} as shown
 */
export function unitName(unit) {
  if (!unit) return "";
  return unit === "degC" ? "°C" : unit.replace("100km", "100 km");
}
