// @ts-check
/** The cars this phone knows: from its own sessions, and from the server as it last told. */
import { FACTS, factsOf, lasts } from "../../shared/facts.js";

/** @typedef {import("../../shared/facts.js").Car & { saved_ms: number }} KnownCar */

const KEY = "cars";

/** @param {import("../storage/keeping").Store} store @returns {Promise<KnownCar[]>} each label once, the latest first */
export async function knownCars(store) {
  const own = (await store.sessions()).map(({ setup, created_ms }) => ({
    label: String(setup.vehicle?.label ?? "").trim(), saved_ms: created_ms, facts: ofCar(setup),
  }));
  /** @type {KnownCar[]} */
  const told = await store.meta(KEY) ?? [];
  const latestFirst = [...own, ...told].sort((a, b) => b.saved_ms - a.saved_ms);
  /** @type {Map<string, KnownCar>} */
  const cars = new Map();
  for (const car of latestFirst) {
    const before = cars.get(car.label);
    // one of which nobody stated anything takes nothing from the one before
    if (car.label && (!before || Object.keys(before.facts).length === 0)) cars.set(car.label, car);
  }
  return [...cars.values()];
}

/** @param {import("../storage/keeping").Store} store @param {KnownCar[]} cars as the server lists them */
export const rememberCars = (store, cars) => store.setMeta(KEY, cars);

/** @param {object} setup */
const ofCar = (setup) => factsOf(setup, (fact) => fact.of === "car" && lasts(fact));

/**
 * What of a car's facts takes the place of what a form holds, when its label is another one.
 * @param {import("../../shared/facts.js").Facts} facts of the car that is named now
 * @returns {import("../../shared/facts.js").Facts} every fact of a car, null where it is not known
 */
export const everyFactOfCar = (facts) =>
  Object.fromEntries(Object.entries(FACTS).filter(([, fact]) => fact.of === "car" && fact.kind !== "flag")
    .map(([path]) => [path, facts[path] ?? null]));
