// @ts-check
/** The drive page's buttons and the pad's tiles in the order of each phase, from the vocabulary. */
import { EVENTS, READINGS } from "../../shared/vocabulary.js";

/** @typedef {import("../../shared/vocabulary.js").Phase} Phase */

const MOST_IN_ROW = 3;

/** A button's name, and the kinds it records: those of a switch in turn. @type {Map<string, string[]>} */
export const KEYS = new Map();
for (const [kind, { key }] of Object.entries(EVENTS)) {
  const name = key.switch ?? kind;
  KEYS.set(name, [...(KEYS.get(name) ?? []), kind]);
}

/** @param {Phase} phase @returns {string[]} the buttons under the thumb */
export const keysOf = (phase) => first([...KEYS.keys()], (name) => keyOf(name).places?.[phase]);

const offered = () => Object.keys(READINGS).filter((quantity) => READINGS[quantity]?.on_pad);

/** @param {Phase} phase */
const usual = (phase) => first(offered(), (quantity) => READINGS[quantity]?.places?.[phase]);

/** @param {Phase} phase @returns {string[]} what is usually read in one pass */
export const padRow = (phase) => usual(phase).slice(0, MOST_IN_ROW);

/** @param {Phase} phase @returns {string[]} every quantity of the pad, what is usually read first */
export const padOrder = (phase) => [...new Set([...usual(phase), ...offered()])];

/** @param {string} name @returns {import("../../shared/vocabulary.js").Key} of the first of its kinds */
export function keyOf(name) {
  return /** @type {import("../../shared/vocabulary.js").EventKind} */ (EVENTS[KEYS.get(name)?.[0] ?? name]).key;
}

/** @param {string[]} names @param {(name: string) => number | undefined} place */
function first(names, place) {
  return names.filter((name) => place(name)).sort((a, b) => (place(a) ?? 0) - (place(b) ?? 0));
}
