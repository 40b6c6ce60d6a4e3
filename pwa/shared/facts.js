// @ts-check
/**
 * Facts of a car and a day: where each stands in a set-up, how it is typed and shown, and which of
 * them another session starts from. What a tick of the checklist says is also in
 * ebbline/exchange/facts.py; both are held to the cases in tests/rules/cases.json. Pure.
 */
import { COVERAGE_95 } from "./measures.js";
import { standing } from "./rules.js";
import { FACTS } from "./vocabulary-table.js";

export { FACTS };

/** @typedef {import("./vocabulary.js").Fact} Fact */
/** @typedef {string | number | boolean | null} FactValue null: not known */
/** @typedef {Record<string, FactValue>} Facts by their place in the set-up */
/** A car's label and what is known of it. @typedef {{ label: string, facts: Facts }} Car */

const ROAD_LOAD = "vehicle.road_load.";

/** @param {string} path "vehicle.pack.usable_kwh" @returns {string} "usable_kwh" */
export const keyOf = (path) => path.slice(path.lastIndexOf(".") + 1);

/**
 * @param {object} setup
 * @param {string} path
 * @returns {any} undefined where nothing is stated
 */
export const stated = (setup, path) =>
  path.split(".").reduce((/** @type {any} */ part, key) => part?.[key] ?? undefined, setup);

/**
 * @param {object} setup
 * @param {(fact: Fact) => unknown} [wanted]
 * @returns {Facts} those that are stated
 */
export const factsOf = (setup, wanted = () => true) =>
  Object.fromEntries(Object.entries(FACTS).filter(([, fact]) => wanted(fact))
    .map(([path]) => [path, stated(setup, path)]).filter(([, value]) => value !== undefined));

/** What another session of the same car starts from. @param {Fact} fact */
export const lasts = (fact) => !fact.anew;

/**
 * @template {object} T
 * @param {T} setup
 * @param {Facts} facts
 * @returns {T} the same set-up with these facts; what is not known any more is null, so that it
 *   also takes the place of what somebody else still has
 */
export function withFacts(setup, facts) {
  const next = structuredClone(setup);
  for (const [path, value] of Object.entries(facts)) {
    if (value === null && stated(next, path) === undefined) continue;
    const keys = path.split(".");
    const last = keys.pop() ?? "";
    /** @type {any} */
    let part = next;
    for (const key of keys) part = part[key] ??= {};
    part[last] = value;
  }
  /** @type {any} */
  const { vehicle } = next;
  if (vehicle?.road_load && typeof vehicle.road_load.a_n !== "number") vehicle.road_load = null; // all of it or none
  return next;
}

/**
 * @param {Fact} fact
 * @param {unknown} value
 * @returns {string} as a field shows it; empty where it is not known
 */
export function factShown({ spread }, value) {
  if (typeof value !== "number") return String(value ?? "");
  return spread ? String(Number((value * COVERAGE_95).toPrecision(4))) : String(value);
}

/** Where wind comes from, as people say it: points 22.5° apart. */
const COMPASS = ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"];

/** What a figure too small for kilopascals was probably meant as. @param {string | undefined} unit @param {number} number */
function meant(unit, number) {
  if (unit !== "kPa" || !(number > 0 && number < 100)) return "";
  const [of, kPa] = number < 10 ? ["bar", number * 100] : ["psi", number * 6.895];
  return ` ${number}\u00a0${of} would be ${Math.round(kPa)}\u00a0kPa.`;
}

/**
 * @param {Fact} fact
 * @param {string} typed
 * @returns {{ value: FactValue, problem: string }}
 */
export function readFact({ name, kind, unit, above, low, high, spread }, typed) {
  const text = typed.trim();
  if (text === "" || kind === "text") return { value: text || null, problem: "" };
  const point = unit === "\u00b0" ? COMPASS.indexOf(text.toUpperCase()) : -1;
  if (point >= 0) return { value: (point * 360) / COMPASS.length, problem: "" };
  const number = Number(text.replace(",", ".").replace("\u2212", "-"));
  const value = spread ? number / COVERAGE_95 : number;
  const whole = kind === "whole";
  const inside = Number.isFinite(value) && value >= (low ?? -Infinity) && value <= (high ?? Infinity) && value > (above ?? -Infinity);
  if (inside && (!whole || Number.isInteger(value))) return { value, problem: "" };
  const bounds = low !== undefined ? ` from ${low} to ${high}` : above !== undefined ? ` above ${above}, up to ${high}` : "";
  const what = `${whole ? "a whole number" : "a number"}${bounds}${unit ? `, in ${unit}` : ""}${unit === "\u00b0" ? ", or a point of the compass such as NW" : ""}`;
  return { value: null, problem: `${name}: \u201c${text}\u201d is not ${what}.${meant(unit, number)}` };
}

/**
 * @param {Facts} facts
 * @returns {string} what is missing among them; empty where nothing is
 */
export function missingFact(facts) {
  const load = Object.entries(facts).filter(([path]) => path.startsWith(ROAD_LOAD));
  const some = load.some(([, value]) => value !== null);
  const whole = ["a_n", "b_n_per_mps", "c_n_per_mps2"].every((key) => typeof facts[ROAD_LOAD + key] === "number");
  return some && !whole ? "Road load: give A, B and C, or nothing of it." : "";
}

/**
 * @param {readonly { id: string, device?: string, log?: unknown, checklist?: any, corrects?: string | null, withdraws?: boolean }[]} events
 * @returns {Set<string>} items of the checklist that stand ticked on any phone
 */
export function tickedItems(events) {
  /** @type {Map<string, [string, boolean]>} */
  const last = new Map();
  for (const { device, checklist } of standing(events.filter(({ log }) => log === "checklist"))) {
    if (checklist) last.set(JSON.stringify([device, checklist.item]), [checklist.item, checklist.ticked === true]);
  }
  return new Set([...last.values()].filter(([, ticked]) => ticked).map(([item]) => item));
}
