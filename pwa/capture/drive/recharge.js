// @ts-check
/**
 * Where a recharge stands, and what of it is worth noting next. Pure.
 *
 * Which level the power is on follows from the typed readings alone, by the rules of the measuring
 * core (measure/recharge/phases.py): a level is one only where two readings in a row agree on it,
 * and two that lie far apart don't tell how the power came from one to the other. A reading is
 * asked for where what is known has grown doubtful: the trickle's end lies between two readings,
 * a rise is over in a minute or two, a steady power spoils the energy slowly.
 */
import { COVERAGE_95 } from "../../shared/measures.js";
import { kindOf, shownSoc } from "../records/evidence.js";

/** @typedef {import("../storage/rows").RecordRow} RecordRow */
/** @typedef {import("./types").Charge} Charge */
/** @typedef {import("./types").Worth} Worth */

/** As on the server. */
const UNREST = 0.05;
const TRICKLE_MOST_KW = 4;
const JUMP = 2;
const TRICKLE_LONGEST_MS = 1.8e6;

/** How soon a rise may be over: common practice, no source. */
const RISE_MS = 30000;
const LONGEST_RISE_MS = 180000;
/** The end of a trickle is known to a quarter of its length, to a minute at best. */
const TRICKLE_SHARE = 0.25;
const TRICKLE_MS = [60000, 300000];
const FALL_MS = 120000;

/** JCGM 100:2008, F.2.2.1: a figure shown in steps of r has a standard uncertainty of r/√12. */
const STEP_TO_SD = 1 / Math.sqrt(12);
const USUAL_PACK_KWH = 60;
/** What the display hid below 0 % is full at 1 %; the others are usual: common practice, no source. */
const LEAVES_ZERO_PCT = 1;
const USUAL_PCT = [10, 20, 50, 80, 100];
const STEP_NEAR = 0.85;

/**
 * @param {RecordRow[]} rows standing ones @param {number} now_ms
 * @param {number | null} [start_pct] the planned % that the drive began with
 * @returns {Charge | null} null: nothing was plugged in
 */
export function chargeOf(rows, now_ms, start_pct = null) {
  const events = rows.filter((row) => row.type === "event");
  const begun = events.findLast((row) => kindOf(row) === "plug_in")
    ?? events.find((row) => kindOf(row) === "charge_start");
  if (!begun) return null;
  const begun_ms = begun.doc.t_ms;
  const powers = readings(rows, "charge_power", begun_ms);
  const power = powers.at(-1) ?? null;
  const ended = events.findLast((row) => kindOf(row) === "charge_end");
  const goesOn = [power, ...events.filter((row) => kindOf(row) === "charge_start")]
    .some((row) => row && ended && row.doc.t_ms > ended.doc.t_ms);
  const state = ended && !goesOn ? "ended" : stateOf(powers, begun_ms);
  const soc = rows.findLast((row) => shownSoc(row) !== null) ?? null;
  const shown_pct = soc && shownSoc(soc);
  return {
    begun_ms, state, power, soc,
    energy: readings(rows, "charge_energy", begun_ms).at(-1) ?? null,
    lasts_ms: patience_ms(state, (power?.doc.t_ms ?? now_ms) - begun_ms),
    next_pct: state === "ended" || shown_pct === null ? null : nextPct(shown_pct, start_pct),
  };
}

/**
 * What to note now; null while nothing has grown doubtful.
 * @param {import("./types").Standing} standing
 * @returns {Worth | null}
 */
export function chargeWorth({ rows, now_ms, usable_kwh, start_pct }) {
  const charge = chargeOf(rows, now_ms, start_pct);
  if (!charge || charge.state === "ended") return null;
  const { state, power, lasts_ms } = charge;
  const age_ms = now_ms - (power?.doc.t_ms ?? charge.begun_ms);
  if (!power || age_ms >= lasts_ms) {
    return { ...asked(power?.id ?? "none", "charge_power"), state, age_ms, grown: age_ms };
  }
  return dueStep(charge, now_ms, usable_kwh) ?? doubtfulEnergy(charge, rows, now_ms, usable_kwh);
}

/** @param {string} key @param {string} quantity @returns {Worth} */
const asked = (key, quantity) => ({
  kind: "charge", key, quantity, value: null, doubt_kwh: null, grown: 0, since_m: 0, due_m: null, age_ms: 0,
});

/**
 * The level that the last two readings are on.
 * @param {RecordRow[]} powers @param {number} begun_ms
 * @returns {import("./types").ChargeState}
 */
function stateOf(powers, begun_ms) {
  const [before, last] = [powers.at(-2), powers.at(-1)];
  if (!last) return "none";
  if (last.doc.value === 0) return "no_power";
  if (!before) return "unknown";
  const [was_kw, is_kw] = [before.doc.value, last.doc.value];
  if (Math.abs(is_kw - was_kw) <= 1.001 * Math.max(step_kw(before), step_kw(last)) + UNREST * Math.min(was_kw, is_kw)) {
    const hasRisen = powers.some(({ doc }) => doc.value > 0 && doc.value * JUMP < is_kw);
    const isLow = is_kw <= TRICKLE_MOST_KW && last.doc.t_ms - begun_ms < TRICKLE_LONGEST_MS;
    return isLow && !hasRisen ? "trickling" : "steady";
  }
  if (last.doc.t_ms - before.doc.t_ms > LONGEST_RISE_MS) return "unknown";
  return is_kw > was_kw ? "ramping" : "falling";
}

/** A display's step; what was said roughly may be off by one either way. @param {RecordRow} row */
const step_kw = ({ doc }) => doc.resolution * (doc.about ? 2 : 1);

/**
 * How long a reading of power tells the state.
 * @param {import("./types").ChargeState} state @param {number} lasted_ms from the plug to the last reading
 */
function patience_ms(state, lasted_ms) {
  const [least_ms = 0, most_ms = 0] = TRICKLE_MS;
  if (state === "trickling" || state === "no_power") return Math.min(most_ms, Math.max(least_ms, TRICKLE_SHARE * lasted_ms));
  if (state === "steady" || state === "ended") return Infinity;
  return state === "falling" ? FALL_MS : RISE_MS;
}

/** @param {number} shown_pct @param {number | null} start_pct */
const nextPct = (shown_pct, start_pct) =>
  [LEAVES_ZERO_PCT, ...(start_pct ? [start_pct] : []), ...USUAL_PCT].sort((a, b) => a - b)
    .find((pct) => pct > shown_pct) ?? null;

/**
 * The next planned %, shortly before the charged energy makes it due. From 0 on it is due late:
 * what the display hides below 0 is filled first.
 * @param {Charge} charge @param {number} now_ms @param {number | null} usable_kwh @returns {Worth | null}
 */
function dueStep({ next_pct, soc, power, begun_ms }, now_ms, usable_kwh) {
  if (next_pct === null || !soc || !power || !(power.doc.value > 0)) return null;
  const from_ms = Math.max(soc.doc.t_ms, begun_ms);
  const gained_pct = (100 * power.doc.value * (now_ms - from_ms)) / 3.6e6 / (usable_kwh ?? USUAL_PACK_KWH);
  const share = gained_pct / (next_pct - (shownSoc(soc) ?? 0));
  return share < STEP_NEAR ? null : { ...asked(`${next_pct} %`, "soc"), value: next_pct, grown: share };
}

/**
 * The energy, once it may have strayed by as much as a step of the displayed % leaves open.
 * @param {Charge} charge @param {RecordRow[]} rows @param {number} now_ms @param {number | null} usable_kwh
 * @returns {Worth | null}
 */
function doubtfulEnergy({ energy, power, begun_ms }, rows, now_ms, usable_kwh) {
  const counts = rows.some((row) => row.doc.quantity === "charge_energy");
  const last = counts ? energy : power;
  const kw = power?.doc.value ?? 0;
  const sd_kwh = (UNREST * kw * (now_ms - (last?.doc.t_ms ?? begun_ms))) / 3.6e6;
  if (sd_kwh < ((usable_kwh ?? USUAL_PACK_KWH) / 100) * STEP_TO_SD) return null;
  const doubt_kwh = COVERAGE_95 * sd_kwh;
  return { ...asked(last?.id ?? "none", counts ? "charge_energy" : "charge_power"), doubt_kwh, grown: doubt_kwh };
}

/** @param {RecordRow[]} rows @param {string} quantity @param {number} from_ms @returns {RecordRow[]} in order of their moments */
const readings = (rows, quantity, from_ms) => rows
  .filter(({ doc }) => doc.quantity === quantity && doc.t_ms >= from_ms)
  .sort((a, b) => a.doc.t_ms - b.doc.t_ms);
