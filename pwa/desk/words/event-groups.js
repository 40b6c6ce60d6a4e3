// @ts-check
/** Events by what they tell of, for filtering flags and ladder, and the few words on a flag. */
import { EVENTS, GROUPS, eventName, eventValue } from "../../shared/vocabulary.js";

/** @typedef {import("../session/documents").RawEvent} RawEvent */

/** @type {[string, string][]} name and words */
export const EVENT_GROUPS = [["all", "All events"], ...Object.entries(GROUPS)];

/**
 * @param {string} group
 * @returns {(kind: string) => boolean}
 */
export function inGroup(group) {
  return (kind) => group === "all" || (EVENTS[kind]?.group ?? "other") === group;
}

/**
 * @param {string} kind
 * @returns {import("../../shared/vocabulary.js").Emphasis} how loudly it is shown
 */
export function emphasisOf(kind) {
  return EVENTS[kind]?.emphasis ?? "plain";
}

/**
 * @param {RawEvent} record
 * @returns {string} a flag's few words
 */
export function flagWords(record) {
  const known = EVENTS[record.kind];
  if (!known) return "";
  if (known.short === undefined) return eventName(record.kind).toLowerCase();
  return [known.short, eventValue(record)].filter(Boolean).join(" ");
}
