// @ts-check
/** What can be done about a finding: for each code the places that can mend it. */
import { eventName, readingName } from "../../shared/vocabulary.js";
import { gapIn } from "../words/hanging.js";

/** @typedef {import("../session/documents").Finding} Finding */
/** @typedef {Omit<import("../session/model.js").Model, "curves">} Model */
/**
 * @typedef {object} Ways  where a button may lead
 * @property {(id: string) => void} correctEvent
 * @property {(id: string) => void} correctReading
 * @property {(kind: string, atMs: number | null) => void} addEvent
 * @property {(quantity: string) => void} addReading
 * @property {() => void} photos
 * @property {(field: string) => void} choose a field of the choices
 * @property {(fromMs: number, toMs: number) => void} lookAt a part of the timeline
 * @property {(anchor: string) => void} section
 * @property {() => void} bringIn more evidence
 */
/** @typedef {{ words: string, act: () => void }} Remedy */

/** @type {Record<string, (model: Model, ways: Ways, finding: Finding) => Remedy[]>} */
const BY_CODE = {
  analysis_failed: (_, ways) => [to("See what was imported and changed", () => ways.section("history")), to("Leave positions out", () => ways.choose("excluded"))],
  trip_meter_disagrees: (_, ways) => [to("Compare laps, survey and trip meter", () => ways.section("laps")), to("Enter the lap\u2019s length", () => ways.choose("surveyed_lap_m"))],
  lap_check_disagrees: (_, ways) => [to("Correct the surveyed length", () => ways.choose("surveyed_lap_m")), to("See the laps", () => ways.section("laps"))],
  no_laps: (_, ways) => [to("Set the start line", () => ways.choose("gate_lat"))],
  gate_found: (_, ways) => [to("Set the start line", () => ways.choose("gate_lat"))],
  odd_lap: lapNamed,
  lap_with_gap: lapNamed,
  gaps: (model, ways) => {
    const longest = [...model.result.distance.gaps].sort((a, b) => (b.to_ms - b.from_ms) - (a.to_ms - a.from_ms))[0];
    return [
      ...(longest ? [to("Look at the longest", () => ways.lookAt(longest.from_ms - 60_000, longest.to_ms + 60_000))] : []),
      to("Import another track", ways.bringIn)];
  },
  hangs_on_gap: (model, ways, { where }) => {
    const gap = gapIn(where, model.result);
    return [
      ...(gap ? [to("Look at the gap", () => ways.lookAt(gap.from_ms - 60_000, gap.to_ms + 60_000))] : []),
      to("Type the trip distance", () => ways.addReading("trip_distance")), to("Import another track", ways.bringIn)];
  },
  trip_meter_contradicts_gaps: (_, ways) => [to("See the events", () => ways.section("ladder"))],
  trip_readings_contradict: (_, ways) => [to("See the readings", () => ways.section("readings")), to("Add a missing reset", () => ways.addEvent("trip_reset", null))],
  distance_by_trip_meter: (_, ways) => [to("Import a track", ways.bringIn)],
  distance_joined: (_, ways) => [to("Import another track", ways.bringIn)],
  no_track: (model, ways) => [...typing(model, ways, "trip_distance", "Type the trip distance"), to("Import a track", ways.bringIn)],
  events_off_track: (_, ways) => [to("Import another track", ways.bringIn), to("See the events", () => ways.section("ladder"))],
  clock_set: (_, ways) => [to("See the events after it", () => ways.section("ladder"))],
  clock_by_track: (_, ways) => [to("Enter the clock\u2019s offset", () => ways.choose("clock"))],
  film_placed: (_, ways) => [to("Enter the film\u2019s offset", () => ways.choose("clock"))],
  fixes_out_of_reach: (_, ways) => elsewhere(ways),
  tracks_apart: (_, ways) => elsewhere(ways),
  track_misses_drive: (_, ways) => [to("Enter the clock\u2019s offset", () => ways.choose("clock")), to("Leave its positions out", () => ways.choose("excluded"))],
  tracks_differ: (_, ways) => elsewhere(ways),
  power_log_excluded: (_, ways) => [to("See what is left out", () => ways.choose("excluded"))],
  moments_ambiguous: (_, ways) => [to("Check the events\u2019 moments", () => ways.section("ladder"))],
  no_zero: (_, ways) => [to(`Add \u201c${eventName("zero_soc")}\u201d`, () => ways.addEvent("zero_soc", null)), to("Choose a moment as zero", () => ways.choose("zero_moment"))],
  zero_tapped_again: (_, ways) => [to("Choose a moment as zero", () => ways.choose("zero_moment"))],
  other_zero: (_, ways) => [to("Choose the zero", () => ways.choose("zero_soc"))],
  no_end: (_, ways) => [to(`Add \u201c${eventName("propulsion_off")}\u201d`, () => ways.addEvent("propulsion_off", null))],
  other_end: (_, ways) => [to("Choose the end", () => ways.choose("reserve_end"))],
  speed_never_held: (_, ways) => [to("Ask for another speed", () => ways.choose("held_speed"))],
  speed_never_failed: (_, ways) => [to("Ask for another speed", () => ways.choose("held_speed"))],
  two_ends: (_, ways) => [to("Say which end counts", () => ways.choose("which_end"))],
  end_tapped_again: (_, ways) => [to("Say which end counts", () => ways.choose("which_end")), to("Add the restart", () => ways.addEvent("restart", null))],
  outside_speed_band: (_, ways) => [to("See the speeds", () => ways.section("timeline")), to("Correct the planned speeds", () => ways.choose("speed_low"))],
  other_start: (_, ways) => [to("Correct the planned start", () => ways.choose("start_soc_pct"))],
  readings_noted_late: (_, ways) => [to("Enter how late they were noted", () => ways.choose("reading_delay"))],
  tap_delay_assumed: (_, ways) => [to("Enter the tap delay", () => ways.choose("delay_mean"))],
  efficiency_assumed: (_, ways) => [to("Enter the charging efficiency", () => ways.choose("charging_efficiency"))],
  balance_open: (_, ways) => [to("Enter the charging efficiency", () => ways.choose("charging_efficiency")), to("See the recharge", () => ways.section("recharge"))],
  no_fixes_at_full_throttle: stretch,
  still_changing: stretch,
  cornering: stretch,
  fell_again: stretch,
  level_assumed: (_, ways) => [to("Enter the grade", () => ways.choose("grade"))],
  no_road_load: (_, ways) => [to("Enter the road load", () => ways.choose("a_n"))],
  fixes_excluded: (_, ways) => [to("See what is left out", () => ways.choose("excluded"))],
  odd_consumption: (_, ways) => [to("See the readings", () => ways.section("readings"))],
  energy_extrapolated: (model, ways) => typing(model, ways, "trip_energy", "Type a later reading"),
  no_energy_readings: (model, ways) => typing(model, ways, "trip_energy", "Type the trip energy"),
  no_charge_readings: (model, ways) => typing(model, ways, "charge_power", "Type the charging power"),
  no_trickle: (model, ways) => typing(model, ways, "charge_power", "Type more of the charging power"),
  full_power_not_seen: (model, ways) => typing(model, ways, "charge_power", "Type more of the charging power"),
  charge_readings_end: (model, ways) => typing(model, ways, "charge_power", "Type a later charging power"),
  first_percent_missed: (model, ways) => typing(model, ways, "soc", "Type an earlier displayed charge"),
  corrected_twice: (_, ways) => [to("See both in the history", () => ways.section("history"))],
  power_log_unusable: (_, ways) => [to("Import the log again", ways.bringIn)],
  power_log_short: (_, ways) => [to("Import the rest of the log", ways.bringIn)],
};

/**
 * @param {Finding} finding
 * @param {Model} model
 * @param {Ways} ways
 * @returns {Remedy[]} the records it names first, then what its code calls for, then its place
 */
export function remediesFor(finding, model, ways) {
  const named = namedRecords(finding, model, ways);
  const known = BY_CODE[finding.code]?.(model, ways, finding) ?? [];
  if (named.length || known.length) return [...named, ...known];
  if (/^(protocol|vehicle|course|conditions|devices)\b/.test(finding.where)) {
    return [to("Go to the choices", () => ways.choose(finding.where.split(".").at(-1) ?? ""))];
  }
  return /readings/.test(finding.where) ? [to("See the readings", () => ways.section("readings"))] : [];
}

/** @param {string} words @param {() => void} act @returns {Remedy} */
function to(words, act) {
  return { words, act };
}

/** @param {Model} model @param {Ways} ways @param {Finding} finding whose place names the taps around it */
function stretch(model, ways, { where }) {
  const atMs = model.events.filter(({ record }) => where.includes(record.id)).map((event) => event.atMs);
  if (atMs.length === 0) return [];
  return [to("Look at that stretch", () => ways.lookAt(Math.min(...atMs) - 20_000, Math.max(...atMs) + 20_000))];
}

/** @param {Model} model @param {Ways} ways @param {Finding} finding whose place names a lap */
function lapNamed(model, ways, { where }) {
  const lap = model.result.laps[Number(/laps\[(\d+)\]/.exec(where)?.[1] ?? -1)];
  return lap ? [to(`Look at lap ${lap.number}`, () => ways.lookAt(lap.from_ms, lap.to_ms))] : [];
}

/** @param {Ways} ways */
function elsewhere(ways) {
  return [to("Leave its positions out", () => ways.choose("excluded")), to("Enter the clock\u2019s offset", () => ways.choose("clock"))];
}

/** @param {Model} model @param {Ways} ways @param {string} quantity @param {string} words */
function typing(model, ways, quantity, words) {
  const read = new Set(model.session.readings.map(({ photo }) => photo));
  const unread = model.session.photos.filter(({ sha256 }) => !read.has(sha256)).length;
  return [
    ...(unread ? [to(`Type from ${unread === 1 ? "the photo" : `${unread} photos`} not read yet`, ways.photos)] : []),
    to(words, () => ways.addReading(quantity))];
}

/** @param {Finding} finding @param {Model} model @param {Ways} ways @returns {Remedy[]} */
function namedRecords({ where, message }, model, ways) {
  const text = `${where} ${message}`;
  const names = (/** @type {string} */ id) => id.length > 3 && text.includes(id);
  return [
    ...model.readings.filter(({ record, withdrawn }) => !withdrawn && names(record.id)).map(({ record, atMs }) =>
      to(`Check ${readingName(record.quantity).toLowerCase()}, ${model.clock.time(atMs)}`, () => ways.correctReading(record.id))),
    ...model.events.filter(({ record, withdrawn }) => !withdrawn && names(record.id)).map(({ record, atMs }) =>
      to(`Check \u201c${eventName(record.kind)}\u201d, ${model.clock.time(atMs)}`, () => ways.correctEvent(record.id))),
  ].slice(0, 4);
}
