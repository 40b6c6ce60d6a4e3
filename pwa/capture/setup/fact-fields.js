// @ts-check
/** The form's fields for the facts of car and day; another car's label brings what is known of it. */
import { FACTS, factShown, keyOf, missingFact, readFact } from "../../shared/facts.js";
import { convert } from "../../shared/measures.js";
import { h, onTap } from "../page/dom.js";
import { everyFactOfCar } from "./cars.js";

const MOST_CHIPS = 4;

/** @typedef {import("../../shared/facts.js").Fact} Fact */
/** @typedef {import("../../shared/facts.js").Facts} Facts */
/** @typedef {import("../../shared/measures.js").Units} Units */

/**
 * A fact as this phone's user is asked for it: lengths in the user's unit.
 * @param {Fact} fact @param {Units} units
 * @returns {{ asked: Fact, scale: number }} what is shown for one of what is kept
 */
function inUnits(fact, units) {
  if (fact.unit !== "km") return { asked: fact, scale: 1 };
  const scale = convert("distance", 1000, units);
  return { asked: { ...fact, unit: units.distance, high: fact.high && fact.high * scale }, scale };
}

/**
 * @param {Facts} facts as known so far, also those that are not asked for
 * @param {{ cars: import("./cars.js").KnownCar[], units: Units }} known
 */
export function createFactFields(facts, { cars, units }) {
  let base = facts;
  const fields = Object.entries(FACTS).filter(([, fact]) => fact.kind !== "flag") // the checklist asks for those
    .map(([path, fact]) => createField(path, fact));

  /** @param {string} path @param {Fact} fact */
  function createField(path, fact) {
    const { asked, scale } = inUnits(fact, units);
    const name = keyOf(path);
    const isNumber = fact.kind !== "text";
    const input = h("input", {
      id: `setup-${name}`, name, autocomplete: "off", ...(isNumber ? { inputmode: "decimal" } : { maxlength: 120 }),
    });
    /** what it showed before anybody typed; then it is the fact unrounded */
    let filled = "";
    const fill = () => {
      const value = base[path] ?? null;
      filled = factShown(asked, typeof value === "number" && scale !== 1 ? Math.round(value * scale * 10) / 10 : value);
      input.value = filled;
    };
    fill();
    return {
      path, fact, input,
      element: h("label", { class: isNumber ? "field short" : "field", for: input.id }, h("span", {}, fact.name),
        asked.unit ? h("span", { class: "with-unit" }, input, h("i", {}, asked.unit)) : input),
      /** Of what was typed nothing is taken away. */
      refill: () => input.value === filled && fill(),
      read() {
        if (input.value === filled) return { value: base[path] ?? null, problem: "" };
        const { value, problem } = readFact(asked, input.value);
        return { value: typeof value === "number" ? value / scale : value, problem };
      },
    };
  }

  /** @param {string} of @param {string} more @returns {HTMLElement[]} */
  function group(of, more) {
    const own = fields.filter(({ fact }) => fact.of === of);
    const [first, rest] = [own.filter(({ fact }) => fact.first), own.filter(({ fact }) => !fact.first)];
    return [...first.map(({ element }) => element),
      h("details", { class: "more-facts" }, h("summary", {}, more), ...rest.map(({ element }) => element))];
  }

  return {
    ofCar: group("car", "More about the car"),
    ofDay: group("day", "More about the day"),

    /**
     * @param {HTMLInputElement} label the car's
     * @param {string} before the label that the facts are of
     * @returns {HTMLElement} cars of this phone, one touch each, and whose facts are shown
     */
    follow(label, before) {
      const note = h("p", { class: "lead", role: "status" });
      const first = { label: before, facts: base };
      /** @param {Facts} ofIt */
      const fillIn = (ofIt) => {
        base = { ...base, ...everyFactOfCar(ofIt) };
        for (const { fact, refill } of fields) if (fact.of === "car") refill();
      };
      const follow = () => {
        const name = label.value.trim();
        if (name === before) return;
        before = name;
        const car = [first, ...cars].find((one) => one.label === name);
        fillIn(car?.facts ?? {});
        note.textContent = car ? "Filled in as this car was last." : name ? "A car not known here: fill in what you know of it." : "";
        same.hidden = Boolean(car) || !first.label || name === "";
      };
      const same = h("button", { class: "chip", hidden: true }, `It is \u201c${first.label}\u201d by another name`);
      onTap(same, () => {
        fillIn(first.facts);
        note.textContent = "Its facts are kept.";
        same.hidden = true;
      });
      label.addEventListener("input", follow); // at each letter: what a next field shows must not change under a finger
      const chips = cars.slice(0, MOST_CHIPS).map((car) => {
        const chip = h("button", { class: "chip" }, car.label);
        onTap(chip, () => {
          label.value = car.label;
          follow();
        });
        return chip;
      });
      const known = chips.length ? h("div", { class: "known", role: "group", "aria-label": "Cars of this phone" }, ...chips) : null;
      return h("div", { class: "field-extra" }, known, note, same);
    },

    /** @returns {{ facts: Facts, complaint: string, at: HTMLInputElement | null }} */
    read() {
      const read = { ...base };
      let complaint = "";
      /** @type {HTMLInputElement | null} */
      let at = null;
      for (const { path, input, read: readField } of fields) {
        const { value, problem } = readField();
        input.setAttribute("aria-invalid", String(problem !== ""));
        if (problem && !complaint) [complaint, at] = [problem, input];
        read[path] = value;
      }
      const missing = complaint ? "" : missingFact(read);
      if (missing) [complaint, at] = [missing, fields.find(({ path }) => path.includes("road_load"))?.input ?? null];
      return { facts: read, complaint, at };
    },
  };
}
