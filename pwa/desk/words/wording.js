// @ts-check
/** Events and readings in words: one wording for ladder, tables, history and conflicts. */
import {
  decimalsOf, eventDetail, eventName, eventWords, readingName, unitName, usualResolution,
} from "../../shared/vocabulary.js";

/** @typedef {import("../session/documents").RawEvent} RawEvent */
/** @typedef {import("../session/documents").RawReading} RawReading */
/** @typedef {import("../session/clock.js").SessionClock} SessionClock */

/**
 * @param {RawReading} record
 * @returns {string} as the display showed it: with the decimals of its last digit
 */
export function readingValue(record) {
  if (record.value === null) return "\u2013";
  const decimals = record.resolution ? decimalsOf(record.resolution) : 0;
  const own = (String(record.value).split(".")[1] ?? "").length;
  return `${record.about ? "about\u00a0" : ""}${record.value.toFixed(Math.max(decimals, own)).replace("-", "\u2212")}\u00a0${unitName(record.unit)}`;
}

/** @param {RawReading} record */
export function readingMeaning(record) {
  const digits = Number((record.resolution || usualResolution(record.quantity, record.unit)).toPrecision(6));
  if (record.about) return `\u00b1 ${digits}, said roughly`;
  const words = record.rounding === "down" ? `+ ${digits}, rounded down` : `\u00b1 ${Number((digits / 2).toPrecision(6))}`;
  return record.resolution ? words : `${words}, last digit assumed`;
}

/**
 * @param {RawEvent | RawReading} record
 * @returns {record is RawReading}
 */
export function isReading(record) {
  return "quantity" in record;
}

/**
 * @param {RawEvent | RawReading} record
 * @returns {string} "Top speed capped: 70 km/h" or "Trip energy 6.4 kWh"
 */
export function recordWords(record) {
  return isReading(record) ? `${readingName(record.quantity)} ${readingValue(record)}` : eventWords(record);
}

/**
 * What differs between two versions of a record.
 * @param {RawEvent | RawReading} one
 * @param {RawEvent | RawReading} other
 * @param {SessionClock} clock
 * @returns {[string, string, string][]} name of the part, in the one, in the other
 */
export function differences(one, other, clock) {
  /** @type {(record: RawEvent | RawReading) => [string, string][]} */
  const parts = (record) => isReading(record)
    ? [["Figure", readingName(record.quantity)],
      ["Shown", record.value === null ? "taken back" : readingValue(record)], ["Means", readingMeaning(record)],
      ["Moment", clock.time(record.t_ms, 1)], ["Reason", record.reason ?? ""]]
    : [["Event", record.withdraws ? "taken back" : eventName(record.kind)], ["Value or class", eventDetail({ ...record, text: null })],
      ["Words", record.text ?? ""], ["Moment", clock.time(record.t_ms, 1)], ["Reason", record.reason ?? ""]];
  const others = new Map(parts(other));
  return parts(one).flatMap(([name, words]) => {
    const there = others.get(name) ?? "";
    return words === there ? [] : [/** @type {[string, string, string]} */ ([name, words || "\u2013", there || "\u2013"])];
  });
}
