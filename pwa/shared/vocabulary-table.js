// @ts-check
/** Made by `python -m ebbline.vocabulary` from server/ebbline/vocabulary/: change that. */

export const ZERO_BASES = ["zero_soc", "zero_range", "moment"];
export const RESERVE_ENDS = ["propulsion_off", "contactors_open", "standstill"];

/** @type {Record<import("./vocabulary.js").Phase, string>} */
export const PHASES = {
  before: "Before zero",
  past: "Past zero",
  fading: "Fading",
  off: "Shut off",
  charging: "Charging",
};

/** @type {Record<string, string>} */
export const GROUPS = {
  warning: "Warnings",
  display: "Display and trip",
  limits: "Limits and throttle",
  end: "Shut-off",
  charge: "Charging",
  other: "Notes and marks",
};

/** @type {Record<string, string>} */
export const DOERS = {
  car: "by the car",
  crew: "by the crew",
};

/** @type {Record<string, import("./vocabulary.js").EventKind>} */
export const EVENTS = {
  soc_step: {"name": "New % shown", "group": "display", "key": {"label": "New %", "hint": "shown", "tone": "plain", "glyph": "M3 6h6v6h6v6h6", "places": {"before": 1, "charging": 2}, "ask": {"question": "Which % does it show?", "steps": [1, 5], "most": 100}}, "short": "", "value": {"units": ["%"], "low": 0, "high": 100}, "emphasis": "plain"},
  zero_soc: {"name": "0 % shown", "group": "display", "key": {"label": "0 %", "hint": "shown", "tone": "zero", "glyph": "M2 8h17v8H2zM22 11v2", "places": {"before": 3}, "once": true, "enters": "past"}, "short": "0 %", "emphasis": "strong", "rung": true, "landmark": 1},
  zero_range: {"name": "Range showed 0", "group": "display", "key": {"label": "Range 0", "hint": "shown", "tone": "zero", "glyph": "M4 20 9 4M20 20 15 4M12 5v2M12 11v2M12 17v3", "places": {"before": 4, "past": 2}, "once": true, "enters": "past"}, "short": "range 0", "emphasis": "strong", "rung": true, "landmark": 4},
  trip_reset: {"name": "Trip reset", "group": "display", "key": {"label": "Trip reset", "hint": "meter to zero", "tone": "plain", "glyph": "M19 12a7 7 0 1 1-2.2-5.1M17.5 3v4h-4", "places": {"before": 5, "past": 1}}, "emphasis": "strong"},
  warning: {"name": "Warning", "group": "warning", "key": {"label": "Warning", "hint": "shown or heard", "tone": "warn", "glyph": "M12 4 21.5 20h-19zM12 10v5M12 17.4v.2", "places": {"before": 2, "past": 3, "fading": 3, "charging": 5}, "ask": {"question": "What did it say?"}}, "choices": {"words": {"range_low": "range low", "charge_soon": "charge soon", "charge_now": "charge now", "power_reduced": "power reduced", "stop_soon": "stop soon", "stop_now": "stop now", "shutting_down": "shutting down", "unable_to_restart": "unable to restart", "other": "another message"}, "label": "Which class", "key": "class"}, "emphasis": "plain", "rung": true},
  floored_on: {"name": "Throttle floored", "group": "limits", "key": {"label": "Floored", "hint": "full throttle", "tone": "limit", "glyph": "M3 20h18M8 20l7-15 4 2-6 13", "places": {"before": 6, "past": 4, "fading": 2}, "switch": "floored"}, "short": "floored", "explained": "full throttle", "emphasis": "plain"},
  floored_off: {"name": "Throttle released", "group": "limits", "key": {"label": "Foot off", "hint": "throttle released", "tone": "limit", "glyph": "M3 20h18M8 20l7-15 4 2-6 13", "places": {"before": 6, "past": 4, "fading": 2}, "switch": "floored"}, "short": "released", "emphasis": "plain"},
  speed_capped: {"name": "Top speed capped", "group": "limits", "key": {"label": "Top speed", "hint": "capped", "tone": "limit", "glyph": "M4 18a8 8 0 1 1 16 0M12 18l4.5-5.5M18 5l3 3", "places": {"fading": 1}, "ask": {"question": "No faster than…", "steps": [5, 1], "most": 400}, "enters": "fading"}, "short": "capped", "value": {"units": ["km/h", "mph"], "low": 0}, "emphasis": "strong", "rung": true},
  power_limited: {"name": "Power limited", "group": "limits", "key": {"label": "Power limited", "hint": "held back", "tone": "limit", "glyph": "M4 4h16M12 8v12M7 15l5 5 5-5", "places": {"past": 5, "fading": 4}, "enters": "fading"}, "emphasis": "plain", "rung": true, "landmark": 3},
  assist_change: {"name": "Assistance changed", "group": "limits", "key": {"label": "Assistance", "hint": "changed", "tone": "plain", "glyph": "M3 8h10M19 8h2M3 16h2M11 16h10M18 8a2 2 0 1 1-4 0 2 2 0 0 1 4 0zM10 16a2 2 0 1 1-4 0 2 2 0 0 1 4 0z", "ask": {"question": "What did the assistance do?"}}, "choices": {"words": {"disengaged": "switched off", "demanded": "told the driver to take over", "took_over": "took over", "stopped_in_lane": "stopped in lane", "engaged": "switched on"}, "label": "What it did", "key": "text", "either": ["disengaged"]}, "emphasis": "plain", "rung": true},
  comfort_cut: {"name": "Comfort reduced", "group": "limits", "key": {"label": "Comfort reduced", "hint": "climate, lights", "tone": "limit", "glyph": "M10 5a2 2 0 0 1 4 0v9a4 4 0 1 1-4 0zM12 9v8", "ask": {"question": "What was cut, and by whom?"}}, "explained": "climate, lights or screen", "choices": {"words": {"climate": "climate off", "lights": "lights dimmed", "screen": "screen dimmed"}, "label": "What was cut", "key": "text", "either": ["climate"]}, "emphasis": "plain", "rung": true},
  hazards_on: {"name": "Hazard lights on", "group": "end", "key": {"label": "Hazard lights", "hint": "on", "tone": "warn", "glyph": "M12 3.5 22 20.5H2zM12 11l3.2 5.5H8.8z", "places": {"fading": 5, "off": 2}, "ask": {"question": "Who switched them on?"}}, "choices": {"words": {"car": "by the car", "crew": "by the crew"}, "label": "By whom", "key": "done_by"}, "emphasis": "plain", "rung": true},
  propulsion_off: {"name": "Propulsion off", "group": "end", "key": {"label": "Propulsion off", "hint": "no longer drives", "tone": "off", "glyph": "M12 3v8M7.2 6.2a8 8 0 1 0 9.6 0", "places": {"past": 6, "fading": 6}, "once": true, "enters": "off"}, "explained": "the car no longer drives", "emphasis": "alarm", "rung": true, "landmark": 2, "alert": true},
  restart: {"name": "Restart tried", "group": "end", "key": {"label": "Restart", "hint": "tried", "tone": "off", "glyph": "M8 5l11 7-11 7z", "places": {"off": 4}, "ask": {"question": "Did it drive again?"}}, "choices": {"words": {"succeeded": "drives again", "failed": "without success"}, "label": "How it went", "key": "text"}, "emphasis": "plain", "rung": true},
  standstill: {"name": "Standstill", "group": "end", "key": {"label": "Standstill", "hint": "wheels stopped", "tone": "off", "glyph": "M6 6h12v12H6z", "places": {"off": 1}}, "emphasis": "alarm"},
  contactors_open: {"name": "Contactors open", "group": "end", "key": {"label": "Contactors open", "hint": "battery disconnected", "tone": "off", "glyph": "M2 14h5l9-7M17 14h5", "places": {"off": 3}, "once": true, "enters": "off"}, "explained": "battery disconnected", "choices": {"words": {"heard": "told from the sound", "shown": "told from the display"}, "label": "Told how", "key": "text"}, "emphasis": "alarm", "rung": true, "landmark": 5, "alert": true},
  contactors_closed: {"name": "Contactors closed", "group": "end", "key": {"label": "Contactors closed", "hint": "battery connected", "tone": "charge", "glyph": "M2 12h20M7 8v8M17 8v8", "places": {"off": 5, "charging": 3}}, "explained": "battery connected", "choices": {"words": {"heard": "told from the sound", "shown": "told from the display"}, "label": "Told how", "key": "text"}, "emphasis": "plain"},
  plug_in: {"name": "Plugged in", "group": "charge", "key": {"label": "Plugged in", "hint": "cable in the car", "tone": "charge", "glyph": "M9 3v5M15 3v5M6 8h12v4a6 6 0 0 1-12 0zM12 18v3", "places": {"off": 6}, "once": true, "enters": "charging"}, "emphasis": "strong", "landmark": 6},
  charge_start: {"name": "Charging starts", "group": "charge", "key": {"label": "Charging starts", "hint": "energy flows", "tone": "charge", "glyph": "M13 3 6 13.5h5.5L10.5 21 18 10.5h-5.5z", "places": {"charging": 1}, "enters": "charging"}, "emphasis": "plain"},
  charge_end: {"name": "Charging ends", "group": "charge", "key": {"label": "Charging ends", "hint": "flow stopped", "tone": "charge", "glyph": "M10 3 4 13h5l-1 8M16 8v8M20 8v8", "places": {"charging": 4}, "enters": "charging"}, "emphasis": "plain", "landmark": 7},
  lap_mark: {"name": "Start line crossed", "group": "other", "key": {"label": "Start line", "hint": "crossed", "tone": "plain", "glyph": "M6 21V4h12l-3 4 3 4H6"}, "short": "start line", "emphasis": "plain"},
  film_sync: {"name": "Film sync", "group": "other", "key": {"label": "Film sync", "hint": "clap or flash", "tone": "plain", "glyph": "M4 11h16v9H4zM4 11l15-6M9 9l2 2M14 7l2 2"}, "value": {"units": ["s"]}, "emphasis": "plain"},
  note: {"name": "Note", "group": "other", "key": {"label": "Note", "hint": "write it later", "tone": "plain", "glyph": "M4 20l1-5L16 4l4 4L9 19z", "places": {"charging": 6}}, "short": "", "emphasis": "plain"},
};

/** @type {Record<string, import("./vocabulary.js").ReadingKind>} */
export const READINGS = {
  trip_energy: {"name": "Trip energy", "units": ["kWh"], "resolution": 0.1, "rounding": "nearest", "on_pad": true, "places": {"past": 1, "fading": 1, "off": 1}},
  trip_distance: {"name": "Trip distance", "units": ["km", "mi"], "resolution": 0.1, "rounding": "nearest", "low": 0, "on_pad": true, "places": {"past": 2, "fading": 2, "off": 2}, "only_rises": true},
  soc: {"name": "Displayed charge", "units": ["%"], "resolution": 1.0, "rounding": "nearest", "low": 0, "high": 100, "on_pad": true, "places": {"before": 1, "charging": 3}},
  range_shown: {"name": "Range shown", "units": ["km", "mi"], "resolution": 1.0, "rounding": "nearest", "on_pad": true, "places": {"before": 2, "charging": 5}},
  power_available: {"name": "Power available", "units": ["kW", "%"], "resolution": 1.0, "rounding": "nearest", "on_pad": true, "places": {"fading": 3}},
  mean_consumption: {"name": "Mean consumption", "units": ["kWh/100km", "Wh/km", "Wh/mi", "mi/kWh", "km/kWh"], "resolution": 0.1, "rounding": "nearest", "on_pad": true, "per_mile": "mi/kWh", "resolution_in": {"Wh/km": 1.0, "Wh/mi": 1.0}},
  pack_voltage: {"name": "Pack voltage", "units": ["V"], "resolution": 1.0, "rounding": "nearest", "low": 0, "on_pad": true, "places": {"off": 3, "charging": 4}},
  aux_voltage: {"name": "12 V battery", "units": ["V"], "resolution": 0.1, "rounding": "nearest", "low": 0, "on_pad": true, "places": {"off": 4}},
  odometer: {"name": "Odometer", "units": ["km", "mi"], "resolution": 1.0, "rounding": "nearest", "low": 0, "on_pad": true, "only_rises": true},
  charge_power: {"name": "Charging power", "units": ["kW"], "resolution": 1.0, "rounding": "nearest", "on_pad": true, "places": {"charging": 1}},
  charge_energy: {"name": "Energy charged", "units": ["kWh"], "resolution": 0.1, "rounding": "nearest", "on_pad": true, "places": {"charging": 2}, "only_rises": true},
  cell_voltage_min: {"name": "Lowest cell voltage", "units": ["V"], "resolution": 0.001, "rounding": "nearest", "low": 0, "on_pad": true},
  cell_voltage_max: {"name": "Highest cell voltage", "units": ["V"], "resolution": 0.001, "rounding": "nearest", "low": 0, "on_pad": true},
  battery_temperature: {"name": "Battery temperature", "units": ["degC"], "resolution": 1.0, "rounding": "nearest", "on_pad": true},
  ambient_temperature: {"name": "Outside temperature", "units": ["degC"], "resolution": 1.0, "rounding": "nearest", "on_pad": true},
};

/** @type {Record<string, import("./vocabulary.js").Fact>} */
export const FACTS = {
  "vehicle.pack.usable_kwh": {"name": "Usable energy, as stated", "of": "car", "kind": "number", "unit": "kWh", "above": 0, "high": 1000, "first": true},
  "vehicle.pack.measured_kwh": {"name": "Usable energy, our measure", "of": "car", "kind": "number", "unit": "kWh", "above": 0, "high": 1000},
  "vehicle.pack.measured_sd_kwh": {"name": "Our measure, ± (95 %)", "of": "car", "kind": "number", "unit": "kWh", "low": 0, "high": 1000, "spread": true},
  "vehicle.pack.chemistry": {"name": "Chemistry", "of": "car", "kind": "text"},
  "vehicle.pack.series_cells": {"name": "Cells in series", "of": "car", "kind": "whole", "low": 1, "high": 10000},
  "vehicle.mass_kg": {"name": "Mass as driven", "of": "car", "kind": "number", "unit": "kg", "above": 0, "high": 100000},
  "vehicle.road_load.a_n": {"name": "Road load A", "of": "car", "kind": "number", "unit": "N"},
  "vehicle.road_load.b_n_per_mps": {"name": "Road load B", "of": "car", "kind": "number", "unit": "N per m/s"},
  "vehicle.road_load.c_n_per_mps2": {"name": "Road load C", "of": "car", "kind": "number", "unit": "N per (m/s)²"},
  "vehicle.road_load.driveline_efficiency": {"name": "Driveline efficiency, 0 to 1", "of": "car", "kind": "number", "above": 0, "high": 1},
  "vehicle.lender": {"name": "Lent by", "of": "car", "kind": "text"},
  "vehicle.software": {"name": "Software", "of": "car", "kind": "text", "anew": true},
  "vehicle.odometer_km": {"name": "Odometer", "of": "car", "kind": "number", "unit": "km", "low": 0, "high": 10000000, "anew": true},
  "conditions.full_charge_before": {"name": "Charged fully beforehand", "of": "car", "kind": "flag", "anew": true, "ticked": "charged_full"},
  "conditions.battery_warmed": {"name": "Battery warmed", "of": "car", "kind": "flag", "anew": true, "ticked": "pack_warm"},
  "conditions.pack_c": {"name": "Battery temperature", "of": "car", "kind": "number", "unit": "°C", "low": -90, "high": 100, "anew": true},
  "conditions.tyre_kpa": {"name": "Tyre pressure", "of": "car", "kind": "number", "unit": "kPa", "low": 100, "high": 1500, "anew": true},
  "conditions.load_kg": {"name": "Load, people and luggage", "of": "car", "kind": "number", "unit": "kg", "low": 0, "high": 100000, "anew": true},
  "conditions.drive_mode": {"name": "Drive mode", "of": "car", "kind": "text", "first": true},
  "conditions.disclosure": {"name": "Disclosure", "of": "car", "kind": "text"},
  "conditions.ambient_c": {"name": "Outside temperature", "of": "day", "kind": "number", "unit": "°C", "low": -90, "high": 60, "anew": true, "first": true},
  "conditions.climate": {"name": "Climate setting", "of": "day", "kind": "text", "first": true},
  "conditions.road_c": {"name": "Road temperature", "of": "day", "kind": "number", "unit": "°C", "low": -90, "high": 100, "anew": true},
  "conditions.wind_mps": {"name": "Wind", "of": "day", "kind": "number", "unit": "m/s", "low": 0, "high": 120, "anew": true},
  "conditions.wind_from_deg": {"name": "Wind from", "of": "day", "kind": "number", "unit": "°", "low": 0, "high": 360, "anew": true},
  "conditions.surface": {"name": "Surface", "of": "day", "kind": "text"},
  "conditions.charger": {"name": "Charger", "of": "day", "kind": "text"},
};
