// @ts-check
/**
 * Words for what a session records, on every page. The table is made from the server's; these are
 * the same rules as in ebbline/vocabulary/words.py, and both are held to the same cases. Pure.
 */
import { DOERS, EVENTS, READINGS } from "./vocabulary-table.js";

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
/** @typedef {{ words: { readonly [word: string]: string }, label: string, key: string, either?: readonly string[] }} Choices */
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
 * @property {boolean} [only_rises] never falls but to zero, by a reset
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
 * @property {string | null} [done_by] "car" or "crew", where either may have done it
 * @property {string | null} [by] who wrote it; in older files the same as done_by
 */

/** @type {{ readonly [unit: string]: string }} */
const UNIT_NAMES = { degC: "°C", "kWh/100km": "kWh/100 km" };

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
  return [eventValue(event), words, DOERS[doneBy(event) ?? ""]].filter(Boolean).join(", ");
}

/** Who did what either may do. @param {Said} event */
function doneBy({ kind, done_by, by }) {
  const choices = EVENTS[kind]?.choices;
  return done_by ?? (choices?.either || choices?.key === "done_by" ? by : null);
}

/**
 * What an event can say beyond its kind: the keys of its record, and the words for people. Where
 * either may have done it, without saying who last.
 * @param {string} kind
 * @returns {{ name: string, detail: { [key: string]: string }, words: string, isOpen?: boolean }[]}
 */
export function choicesOf(kind) {
  const { words = {}, key = "text", either = [] } = EVENTS[kind]?.choices ?? {};
  return Object.entries(words).flatMap(([word, said]) => {
    const plain = { name: word, detail: { [key]: word }, words: said };
    return !either.includes(word) ? [plain] : [
      ...Object.entries(DOERS).map(([done_by, who]) =>
        ({ name: `${word} ${done_by}`, detail: { [key]: word, done_by }, words: `${said} ${who}` })),
      { ...plain, isOpen: true },
    ];
  });
}

/**
 * @param {Said} event
 * @returns {string} the name of the choice of its kind that it says; empty: none of them
 */
export function chosenOf(event) {
  const said = { text: event.text, class: event.class, done_by: doneBy(event) };
  return choicesOf(event.kind).find(({ detail }) =>
    Object.entries(detail).every(([key, word]) => said[/** @type {keyof typeof said} */ (key)] === word))?.name ?? "";
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
