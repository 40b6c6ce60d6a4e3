// @ts-check
/** Events and readings in words: one wording for ladder, tables, history and conflicts. */
import { formatNumber } from "../../shared/units.js";
import { eventName, readingName, unitName } from "../../shared/vocabulary.js";

/** @typedef {import("../session/documents").RawEvent} RawEvent */
/** @typedef {import("../session/documents").RawReading} RawReading */
/** @typedef {import("../session/clock.js").SessionClock} SessionClock */

/**
 * @param {RawEvent} record
 * @returns {string} what the tap said beyond its kind
 */
export function eventDetail(record) {
  const value = typeof record.value === "number" && record.kind !== "zero_soc"
    ? `${formatNumber(record.value, record.value % 1 ? 1 : 0)} ${unitName(record.unit) || (record.kind === "soc_step" ? "%" : "")}`.trim()
    : "";
  return [value, record.text].filter(Boolean).join(" \u00b7 ");
}

/**
 * @param {RawReading} record
 * @returns {string} as the display showed it: with the decimals of its last digit
 */
export function readingValue(record) {
  if (record.value === null) return "\u2013";
  const decimals = record.resolution ? Math.max(0, Math.ceil(-Math.log10(record.resolution) - 1e-9)) : 0;
  const own = (String(record.value).split(".")[1] ?? "").length;
  return `${record.about ? "about\u00a0" : ""}${record.value.toFixed(Math.max(decimals, own)).replace("-", "\u2212")}\u00a0${unitName(record.unit)}`;
}

/** @param {RawReading} record */
export function readingMeaning(record) {
  if (!record.resolution) return "last digit not known";
  const digits = Number(record.resolution.toPrecision(6));
  if (record.about) return `\u00b1 ${digits}, said roughly`;
  return record.rounding === "down" ? `+ ${digits}, rounded down` : `\u00b1 ${Number((digits / 2).toPrecision(6))}`;
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
 * @returns {string} "Warning · low battery" or "Trip energy 6.4 kWh"
 */
export function recordWords(record) {
  const charge = isReading(record) ? record.quantity === "soc" : record.kind === "soc_step";
  if (charge && typeof record.value === "number") return `Display at ${formatNumber(record.value, record.value % 1 ? 1 : 0)}\u00a0%`;
  if (isReading(record)) return `${readingName(record.quantity)} ${readingValue(record)}`;
  return [eventName(record.kind), eventDetail(record)].filter(Boolean).join(" \u00b7 ");
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
      ["Shown", record.value === null ? "withdrawn" : readingValue(record)], ["Means", readingMeaning(record)],
      ["Moment", clock.time(record.t_ms, 1)], ["Reason", record.reason ?? ""]]
    : [["Event", record.withdraws ? "withdrawn" : eventName(record.kind)], ["Value", eventDetail({ ...record, text: null })],
      ["Words", record.text ?? ""], ["Moment", clock.time(record.t_ms, 1)], ["Reason", record.reason ?? ""]];
  const others = new Map(parts(other));
  return parts(one).flatMap(([name, words]) => {
    const there = others.get(name) ?? "";
    return words === there ? [] : [/** @type {[string, string, string]} */ ([name, words || "\u2013", there || "\u2013"])];
  });
}
