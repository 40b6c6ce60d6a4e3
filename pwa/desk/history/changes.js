// @ts-check
/** Every change made after the recording, newest first, and the record that would reverse each. */
import { formatNumber } from "../../shared/units.js";
import { chains, withdraws } from "../../shared/rules.js";
import { clockOffsets } from "../session/clock.js";
import { setupDifferences } from "../words/setup-words.js";
import { recordWords } from "../words/wording.js";

/** @typedef {import("../session/documents").RawEvent} RawEvent */
/** @typedef {import("../session/documents").RawReading} RawReading */
/** @typedef {import("../session/documents").Revision} Revision */
/** @typedef {import("../session/documents").Setup} Setup */

const CLOCK_MARGIN_MS = 60_000;

/**
 * @typedef {object} Change
 * @property {"events" | "readings" | "setup" | "file"} sort
 * @property {string} verb "Added", "Corrected", "Took back", "Restored", "Imported", "Planned", "Changed the choices"
 * @property {string} words what it is about
 * @property {string | null} before
 * @property {string | null} after
 * @property {[string, string, string][]} [parts] of a set-up: what it is, as it was, as it is
 * @property {string | null} reason
 * @property {string} by
 * @property {string | null} at RFC 3339; null when nobody noted it
 * @property {import("../session/documents").Exclusion | null} [leaveOut] what leaves its fixes out of the figures
 * @property {{ sort: "events" | "readings", content: object } | { sort: "setup", setup: Setup } | null} undo
 *   the new record, without what is added on saving; null when something later builds on this one
 */

/**
 * @param {import("../session/documents").SessionDocument} session
 * @param {Revision[]} revisions in order
 * @param {import("../session/clock.js").SessionClock} clock
 * @returns {Change[]} newest first; those without a time at the end
 */
export function changesOf(session, revisions, clock) {
  const changes = [
    ...ofRecords(session.events, "events"), ...ofRecords(session.readings, "readings"), ...ofFiles(session), ...ofSetups(revisions, clock),
  ];
  return changes.sort((a, b) => (Date.parse(b.at ?? "") || 0) - (Date.parse(a.at ?? "") || 0));
}

/**
 * @param {import("../session/documents").SessionDocument} session
 * @returns {Change[]}
 */
function ofFiles(session) {
  const offset = clockOffsets(session);
  const left = session.setup.excluded ?? [];
  return session.imported_files.map(({ name, device, taken_at: at, fixes, events, log_rows: rows, from_ms, to_ms }) => {
    const counts = [[fixes, "position", "positions"], [events, "event", "events"], [rows, "row of a log", "rows of a log"]];
    const what = counts.filter(([count]) => count).map(([count, one, many]) => `${formatNumber(Number(count), 0)} ${count === 1 ? one : many}`);
    // a clock may yet be found to be off: the file's fixes are its device's only ones
    const [fromMs, toMs] = [from_ms + offset(device) - CLOCK_MARGIN_MS, to_ms + offset(device) + CLOCK_MARGIN_MS];
    const isOut = left.some((one) => one.device === device && one.from_ms <= from_ms + offset(device) && one.to_ms >= to_ms + offset(device));
    return {
      sort: "file", verb: "Imported", words: `\u201c${name}\u201d: ${what.join(", ")}${isOut ? "; left out" : ""}`,
      before: null, after: null, reason: null, by: device, at, undo: null,
      leaveOut: (fixes === 0 && rows === 0) || isOut ? null : { device, from_ms: fromMs, to_ms: toMs, reason: `imported by mistake: ${name}` },
    };
  });
}

/**
 * @param {readonly (RawEvent | RawReading)[]} records
 * @param {"events" | "readings"} sort
 * @returns {Change[]}
 */
function ofRecords(records, sort) {
  const latest = new Set(chains(records).map(({ record }) => record.id));
  const byId = new Map(records.map((record) => [record.id, record]));
  return records.flatMap((record) => {
    const before = record.corrects ? byId.get(record.corrects) : undefined;
    const made = record.device === "desk" || Boolean(record.by);
    if (!before && !made) return []; // as recorded in the car
    const isWithdrawal = withdraws(record);
    const wasWithdrawn = before ? withdraws(before) : false;
    const undoing = before && !wasWithdrawn ? { ...before } : null;
    /** @type {Change} */
    const change = {
      sort,
      verb: !before ? "Added" : isWithdrawal ? "Took back" : wasWithdrawn ? "Restored" : "Corrected",
      words: recordWords(isWithdrawal && before ? before : record),
      before: before && !isWithdrawal && !wasWithdrawn ? recordWords(before) : null,
      after: before && !isWithdrawal ? recordWords(record) : null,
      reason: record.reason ?? null, by: record.by ?? record.device, at: record.written_at ?? null,
      undo: !latest.has(record.id) ? null : { sort, content: undoing ? restated(undoing, record.id) : withdrawal(record, sort) },
    };
    return [change];
  });
}

/**
 * @param {RawEvent | RawReading} record what stood before
 * @param {string} corrects
 */
function restated(record, corrects) {
  return { ...record, id: undefined, by: undefined, written_at: undefined, corrects, reason: "taken back in the history" };
}

/**
 * @param {RawEvent | RawReading} record
 * @param {"events" | "readings"} sort
 */
function withdrawal(record, sort) {
  const content = restated(record, record.id);
  return sort === "readings" ? { ...content, value: null }
    : { ...content, kind: "note", text: "withdrawn", value: null, unit: null, withdraws: true };
}

/**
 * @param {Revision[]} revisions
 * @param {import("../session/clock.js").SessionClock} clock
 * @returns {Change[]}
 */
function ofSetups(revisions, clock) {
  const sorted = [...revisions].sort((a, b) => a.revision - b.revision);
  return sorted.map(({ revision, saved_at: at, setup }, i) => {
    const before = sorted[i - 1];
    const marks = /** @type {{ by?: string, reason?: string } | undefined} */ (/** @type {any} */ (setup).revised);
    return {
      sort: "setup", verb: before ? "Changed the choices" : "Planned", words: `revision ${revision}`,
      before: null, after: null, parts: before ? setupDifferences(before.setup, setup, clock) : [],
      reason: marks?.reason ?? null, by: marks?.by ?? (before ? "desk" : "phone or file"), at,
      undo: before && i === sorted.length - 1 ? { sort: "setup", setup: before.setup } : null,
    };
  });
}
