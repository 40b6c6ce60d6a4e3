// @ts-check
/**
 * What the records of a run say now: corrections applied, the phase it is in, what is on. Pure.
 */

/** @typedef {import("../storage/rows").RecordRow} RecordRow */
/** @typedef {"before" | "past" | "fading" | "off" | "charging"} Phase */

/**
 * Records that still stand: not replaced by a correction, not withdrawn.
 * @param {RecordRow[]} rows in the order taken
 * @returns {RecordRow[]} the same order
 */
export function standing(rows) {
  const replaced = new Set(rows.map((row) => row.doc.corrects).filter(Boolean));
  return rows.filter((row) => row.type !== "clock_check" && !replaced.has(row.id) && !takesBack(row));
}

/**
 * Records that were taken back.
 * @param {RecordRow[]} rows in the order taken
 * @returns {RecordRow[]} the same order
 */
export function takenBack(rows) {
  const gone = new Set(rows.filter(takesBack).map((row) => row.doc.corrects));
  return rows.filter((row) => gone.has(row.id));
}

/** @param {RecordRow} row */
const takesBack = ({ type, doc }) => doc.withdraws || (type === "reading" && doc.value === null);

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
  return rows.findLast((row) => kinds.includes(row.doc.kind) && !isLog(row)) ?? null;
}

/**
 * Where the run is, from what was tapped.
 * @param {RecordRow[]} rows standing ones
 * @returns {Phase}
 */
export function phaseOf(rows) {
  const turn = latestEvent(
    rows, "plug_in", "charge_start", "charge_end", "propulsion_off", "contactors_open",
  );
  if (turn) return /plug|charge/.test(turn.doc.kind) ? "charging" : "off";
  if (latestEvent(rows, "power_limited", "speed_capped")) return "fading";
  if (latestEvent(rows, "zero_soc", "zero_range")) return "past";
  return "before";
}

/**
 * The zero that the running distance counts from: 0 % shown if there is one, else 0 range.
 * @param {RecordRow[]} rows standing ones
 * @returns {RecordRow | null}
 */
export function zeroOf(rows) {
  return latestEvent(rows, "zero_soc") ?? latestEvent(rows, "zero_range");
}

/** @param {RecordRow[]} rows standing ones */
export function isFloored(rows) {
  return latestEvent(rows, "floored_on", "floored_off")?.doc.kind === "floored_on";
}
