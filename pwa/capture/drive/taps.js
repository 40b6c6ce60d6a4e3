// @ts-check
/** The drive page's buttons: what each records, how it looks, and what usually comes next. */

/** @typedef {import("./types").Tap} Tap */

/** @type {Readonly<Record<string, Tap>>} by event kind; `floored` is a switch of two kinds */
export const TAPS = {
  warning: { label: "Warning", hint: "shown or heard", tone: "warn", detail: "warning" },
  soc_step: { label: "New %", hint: "on display", tone: "plain", detail: "percent" },
  zero_soc: { label: "0 %", hint: "shown", tone: "zero" },
  zero_range: { label: "0 range", hint: "shown", tone: "zero" },
  trip_reset: { label: "Trip reset", hint: "meter to zero", tone: "plain" },
  floored: { label: "Floored", hint: "throttle down", tone: "limit" },
  speed_capped: { label: "Top speed", hint: "capped", tone: "limit", detail: "speed" },
  power_limited: { label: "Power limited", hint: "held back", tone: "limit" },
  propulsion_off: { label: "Propulsion off", hint: "no drive", tone: "off" },
  standstill: { label: "Standstill", hint: "wheels stopped", tone: "off" },
  hazards_on: { label: "Hazards on", hint: "lights flashing", tone: "warn" },
  contactors_open: { label: "Contactors open", hint: "pack off", tone: "off" },
  contactors_closed: { label: "Contactors closed", hint: "pack on", tone: "charge" },
  plug_in: { label: "Plugged in", hint: "cable in the car", tone: "charge" },
  charge_start: { label: "Charge starts", hint: "energy flows", tone: "charge" },
  charge_end: { label: "Charge ends", hint: "flow stopped", tone: "charge" },
  comfort_cut: { label: "Comfort cut", hint: "climate, lights", tone: "limit" },
  assist_change: { label: "Assist change", hint: "driver aids", tone: "plain" },
  lap_mark: { label: "Lap line", hint: "crossed", tone: "plain" },
  film_sync: { label: "Film sync", hint: "clap or flash", tone: "plain" },
  note: { label: "Note", hint: "write it later", tone: "plain" },
};

/** @type {Readonly<Record<import("../records/evidence.js").Phase, { name: string, next: string[] }>>} */
export const PHASES = {
  before: {
    name: "Before zero",
    next: ["soc_step", "warning", "zero_soc", "zero_range", "trip_reset", "floored"],
  },
  past: {
    name: "Past zero",
    next: ["trip_reset", "zero_range", "warning", "floored", "power_limited", "propulsion_off"],
  },
  fading: {
    name: "Fading",
    next: ["speed_capped", "floored", "warning", "power_limited", "hazards_on", "propulsion_off"],
  },
  off: {
    name: "Shut off",
    next: ["standstill", "hazards_on", "contactors_open", "contactors_closed", "plug_in", "note"],
  },
  charging: {
    name: "Charging",
    next: ["charge_start", "soc_step", "contactors_closed", "charge_end", "warning", "note"],
  },
};

/** What cars say at the bottom of their battery, in general words; the exact text can follow. */
export const WARNINGS = [
  "Charge now", "Very low", "Power reduced", "Comfort off", "Stop safely", "Other",
];

/** Kinds that name a state reached once in a run: a second tap is more likely a slip. */
export const ONCE = ["zero_soc", "zero_range", "propulsion_off", "contactors_open", "plug_in"];

/** The pad's tiles: the first of a phase are what is usually read in it. */
export const PAD_ORDER = {
  before: ["soc", "range_shown", "trip_energy", "trip_distance", "power_available", "mean_consumption", "pack_voltage", "odometer", "charge_power", "charge_energy"],
  past: ["trip_energy", "trip_distance", "soc", "range_shown", "power_available", "mean_consumption", "pack_voltage", "odometer", "charge_power", "charge_energy"],
  fading: ["trip_energy", "trip_distance", "power_available", "soc", "range_shown", "mean_consumption", "pack_voltage", "odometer", "charge_power", "charge_energy"],
  off: ["trip_energy", "trip_distance", "pack_voltage", "soc", "range_shown", "power_available", "mean_consumption", "odometer", "charge_power", "charge_energy"],
  charging: ["charge_energy", "charge_power", "soc", "pack_voltage", "range_shown", "trip_energy", "trip_distance", "mean_consumption", "power_available", "odometer"],
};
