// @ts-check
/**
 * What the records of a run say now: corrections applied, the phase it is in, what is on. Pure.
 */
import * as rules from "../../shared/rules.js";
import { EVENTS } from "../../shared/vocabulary.js";

/** The phone's own note at the start of a run that laps were checked before. */
export const RUN_START = "run_start";

/** @typedef {import("../storage/rows").RecordRow} RecordRow */
/** @typedef {rules.Correctable & rules.Tap} Doc */
/** @typedef {import("../../shared/vocabulary.js").Phase} Phase */

/**
 * Records that count.
 * @param {RecordRow[]} rows in the order taken
 * @returns {RecordRow[]} the same order
 */
export function standing(rows) {
  const ids = new Set(rules.standing(observed(rows)).map(({ id }) => id));
  return rows.filter((row) => ids.has(row.id));
}

/**
 * Records that were taken back, as they last stood.
 * @param {RecordRow[]} rows in the order taken
 * @returns {RecordRow[]} the same order
 */
export function takenBack(rows) {
  const gone = new Set(rules.chains(observed(rows)).map(({ withdrawn, earlier }) => withdrawn && earlier[0]?.id));
  return rows.filter((row) => gone.has(row.id));
}

/** @param {RecordRow[]} rows @returns {Doc[]} events and readings */
const observed = (rows) =>
  rows.flatMap((row) => (row.type === "clock_check" ? [] : [/** @type {Doc} */ (row.doc)]));

/** @param {RecordRow[]} rows @returns {Doc[]} what somebody tapped */
const taps = (rows) =>
  rows.flatMap((row) => (row.type === "event" && !isLog(row) ? [/** @type {Doc} */ (row.doc)] : []));

/** @param {RecordRow} row whether it only takes another one back */
export const isWithdrawal = ({ doc }) => rules.withdraws(/** @type {Doc} */ (doc));

/**
 * The kind under which an event counts.
 * @param {RecordRow} row
 * @returns {string}
 */
export const kindOf = ({ doc }) => rules.asReported(/** @type {Doc} */ (doc)).kind;

/**
 * The % that the display showed with a record; null where it says nothing of it.
 * @param {RecordRow} row
 * @returns {number | null}
 */
export function shownSoc(row) {
  if (kindOf(row) === "zero_soc") return 0;
  return row.doc.kind === "soc_step" || row.doc.quantity === "soc" ? row.doc.value : null;
}

/**
 * What the display showed last of a quantity.
 * @param {RecordRow[]} rows standing ones @param {string} quantity
 * @returns {{ value: number, unit: string } | null} null where none stands or it was said roughly
 */
export function lastShown(rows, quantity) {
  const doc = rows.findLast((row) => row.doc.quantity === quantity)?.doc;
  return doc && !doc.about ? { value: doc.value, unit: doc.unit } : null;
}

/**
 * Whether a record is the phone's own log (a gap, a clock step) rather than somebody's tap.
 * @param {RecordRow} row
 */
export const isLog = (row) => row.doc.log !== undefined;

/**
 * @param {RecordRow[]} rows standing ones
 * @param {string[]} kinds
 * @returns {RecordRow | null} the latest tap of these kinds
 */
export function latestEvent(rows, ...kinds) {
  return rows.findLast((row) => kinds.includes(kindOf(row)) && !isLog(row)) ?? null;
}

/**
 * The phases that a run has been through, from what was tapped; the last is where it is. Past zero
 * begins with 0 %, and with range 0 only where the plan counts from it: most ranges show 0 while
 * the per cent still count down. What holds a car back before zero doesn't make it fade below it.
 * @param {RecordRow[]} rows standing ones
 * @param {rules.Protocol} protocol
 * @returns {Phase[]}
 */
export function phasesOf(rows, { zero_basis }) {
  const tapped = rows.filter((row) => row.type === "event" && !isLog(row));
  const isZero = (/** @type {RecordRow} */ row) =>
    begunBy(row) === "past" && (kindOf(row) !== "zero_range" || zero_basis === "zero_range");
  const zero_ms = Math.min(...tapped.filter(isZero).map(({ doc }) => doc.t_ms));
  const fades = tapped.some((row) => begunBy(row) === "fading" && row.doc.t_ms >= zero_ms);
  /** @type {Phase[]} */
  const driven = ["before", ...(zero_ms < Infinity ? /** @type {const} */ (["past"]) : []), ...(fades ? /** @type {const} */ (["fading"]) : [])];
  const ended = tapped.findLast((row) => isEnd(begunBy(row)) || drivesAgain(row));
  const end = ended && !drivesAgain(ended) ? begunBy(ended) : undefined;
  if (!end) return driven;
  const wasOff = end === "charging" && tapped.some((row) => begunBy(row) === "off");
  return [...driven, ...(wasOff ? /** @type {const} */ (["off"]) : []), end];
}

/**
 * Where the run is.
 * @param {RecordRow[]} rows standing ones
 * @param {rules.Protocol} protocol
 * @returns {Phase}
 */
export const phaseOf = (rows, protocol) => phasesOf(rows, protocol).at(-1) ?? "before";

/** @param {RecordRow} row @returns {Phase | undefined} */
const begunBy = (row) => EVENTS[kindOf(row)]?.key.enters;

/** @param {Phase | undefined} phase */
const isEnd = (phase) => phase === "off" || phase === "charging";

/** @param {RecordRow} row */
const drivesAgain = ({ doc }) => doc.kind === "restart" && doc.text === "succeeded";

/**
 * The zero that the running distance counts from.
 * @param {RecordRow[]} rows standing ones
 * @param {rules.Protocol} protocol
 */
export const zeroOf = (rows, protocol) => rules.zeroOf(taps(rows), protocol);

/**
 * The tap that another one of the same zero would be second to.
 * @param {RecordRow[]} rows standing ones
 * @param {{ kind: string, value?: number | null, t_ms: number }} another
 * @returns {RecordRow | null}
 */
export function sameZero(rows, another) {
  const first = rules.sameZero(taps(rows), another);
  return rows.find(({ id }) => id === first?.id) ?? null;
}

/**
 * Where the run began in a recording that began with checking laps.
 * @param {RecordRow[]} rows standing ones
 * @returns {RecordRow | null}
 */
export const runStart = (rows) => rows.findLast((row) => row.doc.log === RUN_START) ?? null;

/** Whether nothing of a run was recorded yet, laps at most. @param {RecordRow[]} rows standing ones */
export const isBeforeRun = (rows) => rows.every((row) =>
  isLog(row) ? row.doc.log !== RUN_START : row.doc.kind === "lap_mark" || row.doc.quantity === "trip_distance");

/**
 * What the car said so far, in its words and with their class.
 * @param {RecordRow[]} rows standing ones
 * @returns {import("../../shared/warnings.js").KnownWarning[]} the latest first
 */
export const saidIn = (rows) => rows.toReversed()
  .flatMap(({ doc }) => (doc.kind === "warning" && doc.text && doc.class ? [{ text: doc.text, class: doc.class }] : []));

/** Whether the car was said to hold back. @param {RecordRow[]} rows standing ones */
export const isHeldBack = (rows) => rows.some((row) => row.type === "event" && begunBy(row) === "fading");

/** @param {RecordRow[]} rows standing ones */
export function isFloored(rows) {
  return latestEvent(rows, "floored_on", "floored_off")?.doc.kind === "floored_on";
}
