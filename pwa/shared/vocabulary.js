// @ts-check
/**
 * Words for what a session records, on every page. The table is made from the server's; these are
 * the same rules as in ebbline/vocabulary/words.py, and both are held to the same cases. Pure.
 */
import { EVENTS, READINGS } from "./vocabulary-table.js";

export { EVENTS, GROUPS, PHASES, READINGS, RESERVE_ENDS, ZERO_BASES } from "./vocabulary-table.js";

/** @typedef {"before" | "past" | "fading" | "off" | "charging"} Phase */
/** @typedef {"plain" | "strong" | "alarm"} Emphasis */
/**
 * A row of the table, as ebbline/vocabulary/kinds.py describes it. What says nothing is left out.
 * @typedef {object} EventKind
 * @property {string} name
 * @property {string} group
 * @property {Key} key
 * @property {string} [short]
 * @property {string} [explained]
 * @property {{ units: readonly string[], low?: number, high?: number }} [value]
 * @property {Choices} [choices]
 * @property {Emphasis} emphasis
 * @property {boolean} [rung]
 * @property {number} [landmark]
 * @property {boolean} [alert]
 */
/** @typedef {{ words: { readonly [word: string]: string }, key: string }} Choices */
/**
 * @typedef {object} Key
 * @property {string} label
 * @property {string} hint
 * @property {string} tone
 * @property {string} glyph
 * @property {{ [phase in Phase]?: number }} [places]
 * @property {Ask} [ask]
 * @property {string} [switch]
 * @property {boolean} [once]
 * @property {Phase} [enters]
 */
/** @typedef {{ question: string, steps?: readonly number[], most?: number }} Ask */
/**
 * @typedef {object} ReadingKind
 * @property {string} name
 * @property {readonly string[]} units the first is the usual one
 * @property {number} resolution
 * @property {{ readonly [unit: string]: number }} [resolution_in]
 * @property {string} rounding
 * @property {number} [low]
 * @property {number} [high]
 * @property {boolean} [on_pad]
 * @property {{ [phase in Phase]?: number }} [places]
 * @property {string} [per_mile]
 */
/**
 * @typedef {object} Fact
 * @property {string} name
 * @property {string} of "car" or "day"
 * @property {string} kind "number", "whole", "text" or "flag"
 * @property {string} [unit]
 * @property {number} [above]
 * @property {number} [low]
 * @property {number} [high]
 * @property {boolean} [anew]
 * @property {boolean} [spread]
 * @property {boolean} [first]
 * @property {string} [ticked]
 */
/**
 * As much of an event as its words need.
 * @typedef {object} Said
 * @property {string} kind
 * @property {number | null} [value]
 * @property {string | null} [unit]
 * @property {string | null} [text]
 * @property {string | null} [class] of a warning
 * @property {string | null} [by] "car" or "crew", where either may have done it; else who wrote it
 */

/** @type {{ readonly [unit: string]: string }} */
const UNIT_NAMES = { degC: "°C", "kWh/100km": "kWh/100 km" };
/** Of what an event says that either may do. @type {{ readonly [by: string]: string }} */
const DOERS = { car: "by the car", crew: "by the crew" };

/**
 * @param {string} kind
 * @returns {string} words for an event kind; one we don't know is shown as it is written
 */
export function eventName(kind) {
  return EVENTS[kind]?.name ?? kind.replaceAll("_", " ");
}

/** @param {string} kind @returns {string} the same, and behind it what a trade's word means */
export function eventExplained(kind) {
  const about = EVENTS[kind]?.explained;
  return about ? `${eventName(kind)} (${about})` : eventName(kind);
}

/**
 * @param {string} quantity
 * @returns {string} words for a reading's quantity
 */
export function readingName(quantity) {
  return READINGS[quantity]?.name ?? quantity.replaceAll("_", " ");
}

/**
 * @param {string | null | undefined} unit as written in a record
 * @returns {string} as shown
 */
export function unitName(unit) {
  return UNIT_NAMES[unit ?? ""] ?? unit ?? "";
}

/** @param {string} basis @returns {string} words for what zero is taken to be */
export function zeroName(basis) {
  return basis === "moment" ? "A chosen moment" : eventName(basis);
}

/**
 * @param {Said} event
 * @returns {string} what it was, and what was noted with it
 */
export function eventWords(event) {
  const [name, detail] = [eventName(event.kind), eventDetail(event)];
  if (!detail) return name;
  return event.kind === "note" ? detail : `${name}: ${detail}`;
}

/**
 * @param {Said} event
 * @returns {string} what was noted with it beyond its kind; empty where nothing was
 */
export function eventDetail(event) {
  const { text, class: chosen } = event;
  const choices = EVENTS[event.kind]?.choices;
  const words = choices?.key === "class" ? warningWords(text, choices.words[chosen ?? ""] ?? chosen)
    : choices?.words[text ?? ""] ?? text;
  const doer = choices?.key === "text" && DOERS[event.by ?? ""];
  return [eventValue(event), words, doer].filter(Boolean).join(", ");
}

/**
 * The car's own words, and beside them the class they were put into.
 * @param {string | null | undefined} text @param {string | null | undefined} chosen in words
 */
function warningWords(text, chosen) {
  if (!text) return chosen;
  return chosen ? `“${text}” (${chosen})` : `“${text}”`;
}

/**
 * @param {Said} event
 * @returns {string} its figure with the unit; empty where its kind has none
 */
export function eventValue({ kind, value, unit }) {
  const known = EVENTS[kind];
  if (typeof value !== "number" || (known && !known.value)) return "";
  const units = known?.value?.units ?? [];
  const shown = unit || (units.length === 1 ? units[0] : "");
  return `${Number(value.toPrecision(6))}\u00a0${unitName(shown)}`.trim().replace("-", "\u2212");
}

/**
 * @param {string} quantity
 * @param {string} unit
 * @returns {number} step of a display's last digit where a reading states none
 */
export function usualResolution(quantity, unit) {
  const known = READINGS[quantity];
  return known?.resolution_in?.[unit] ?? known?.resolution ?? 1;
}

/** @param {number} resolution @returns {number} decimals that a display with this step shows */
export function decimalsOf(resolution) {
  return Math.max(0, Math.ceil(-Math.log10(resolution) - 1e-9));
}

/**
 * @param {string} typed a figure
 * @returns {number} one step of its last digit, in the figure's unit
 */
export function lastDigit(typed) {
  const decimals = typed.trim().split(/[.,]/)[1]?.length ?? 0;
  return Number(`1e-${decimals}`);
}

/**
 * The step that a typed figure shows: one with more decimals than its display was said to have
 * says it itself.
 * @param {string} typed
 * @param {number} resolution as the display was said to be
 * @returns {number}
 */
export function shownResolution(typed, resolution) {
  const decimals = decimalsOf(lastDigit(typed));
  return decimals > decimalsOf(resolution) ? lastDigit(typed) : resolution;
}
