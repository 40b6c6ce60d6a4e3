// @ts-check
/** One fact of a car or a day as a field of a form. */
import { FACTS, factShown, keyOf, readFact } from "../../shared/facts.js";
import { el } from "./dom.js";
import { mark } from "./form-status.js";

/** @typedef {ReturnType<typeof createFactField>} FactField */

const ANSWERS = [["true", "yes"], ["false", "no"]];

/**
 * @param {string} path of the fact in a set-up
 * @param {string} prefix of the field's id
 * @param {() => void} [onInput]
 */
export function createFactField(path, prefix, onInput) {
  const fact = /** @type {import("../../shared/facts.js").Fact} */ (FACTS[path]);
  const id = `${prefix}-${keyOf(path)}`;
  const unsaid = el("option", { value: "" }, "not stated");
  const input = fact.kind === "flag"
    ? el("select", { id }, unsaid, ...ANSWERS.map(([value, words]) => el("option", { value: value ?? "" }, words)))
    : el("input", { id, type: "text", size: fact.kind === "text" ? 18 : 9, inputmode: fact.kind === "text" ? null : "decimal", autocomplete: "off" });
  if (onInput) input.addEventListener("input", onInput);
  return {
    path, fact, input,
    element: el("div", { class: "field" }, el("label", { for: id }, fact.unit ? `${fact.name}, ${fact.unit}` : fact.name), input),
    /** @param {unknown} value @param {boolean} [ticked] on a phone's checklist, which counts where nothing else is said */
    fill(value, ticked = false) {
      unsaid.textContent = ticked ? "yes, ticked on the phone" : "not stated";
      input.value = factShown(fact, value);
      mark(input, "");
    },
    /** @returns {{ value: import("../../shared/facts.js").FactValue, problem: string }} and marks what can't be */
    read() {
      const read = fact.kind === "flag"
        ? { value: input.value === "" ? null : input.value === "true", problem: "" } : readFact(fact, input.value);
      mark(input, read.problem);
      return read;
    },
  };
}
