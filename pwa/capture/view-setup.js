// @ts-check
/** The set-up form: the few things a result needs to know, remembered from last time. */
import { h, onTap } from "./dom.js";

/**
 * @typedef {object} SetupValues
 * @property {string} title @property {string} vehicle @property {number | null} usable_kwh
 * @property {string} course @property {number | null} surveyed_lap_m
 * @property {number | null} start_soc_pct
 * @property {number | null} band_low_kmh @property {number | null} band_high_kmh
 */
/**
 * @typedef {object} Field
 * @property {keyof SetupValues} name @property {string} label @property {string} [unit]
 * @property {[min: number, max: number]} [range] for numbers
 * @property {boolean} [required]
 */

/** @type {[string, Field[]][]} */
const GROUPS = [
  ["Session", [{ name: "title", label: "Title", required: true }]],
  ["Car", [
    { name: "vehicle", label: "Which car", required: true },
    { name: "usable_kwh", label: "Usable energy of the pack", unit: "kWh", range: [0.1, 1000] },
  ]],
  ["Course", [
    { name: "course", label: "Which course", required: true },
    { name: "surveyed_lap_m", label: "Surveyed lap", unit: "m", range: [10, 100000] },
  ]],
  ["Plan", [
    { name: "start_soc_pct", label: "Start at", unit: "% shown", range: [0, 100] },
    { name: "band_low_kmh", label: "Speed from", unit: "km/h", range: [0, 400] },
    { name: "band_high_kmh", label: "Speed to", unit: "km/h", range: [0, 400] },
  ]],
];

/**
 * @param {SetupValues} values
 * @param {{ save: (values: SetupValues) => Promise<void>, back: () => void }} actions
 */
export function createSetupView(values, { save, back }) {
  const problem = h("p", { class: "problem", role: "alert" });
  /** @type {Map<Field, HTMLInputElement>} */
  const inputs = new Map();

  /** @param {Field} field */
  const row = (field) => {
    const id = `setup-${field.name}`;
    const input = h("input", {
      id, name: field.name, autocomplete: "off", required: field.required,
      ...(field.range ? { inputmode: "decimal" } : { maxlength: 120 }),
    });
    input.value = String(values[field.name] ?? "");
    inputs.set(field, input);
    return h("label", { class: field.range ? "field short" : "field", for: id },
      h("span", {}, field.label),
      field.unit ? h("span", { class: "with-unit" }, input, h("i", {}, field.unit)) : input);
  };

  const cancel = h("button", { type: "button", class: "quiet" }, "Back");
  onTap(cancel, back);
  const next = h("button", { type: "submit", class: "key wide primary" }, h("span", {}, "On to the checklist"));
  const form = h("form", { class: "form", novalidate: true },
    ...GROUPS.map(([title, fields]) => h("fieldset", {}, h("legend", {}, title), ...fields.map(row))),
    problem, next);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (next.disabled) return; // a second touch must not make a second session
    const { read, complaint, at } = readForm(inputs);
    const row = at?.closest("label");
    if (row) row.after(problem);
    else next.before(problem);
    problem.textContent = complaint;
    if (complaint) {
      at?.focus({ preventScroll: true });
      at?.scrollIntoView({ block: "center" });
      return;
    }
    next.disabled = true;
    void save(read).finally(() => {
      next.disabled = false;
    });
  });
  return h("main", { class: "page setup" },
    h("header", { class: "masthead small" }, h("h1", {}, "Set-up"), cancel), form);
}

/**
 * @param {Map<Field, HTMLInputElement>} inputs
 * @returns {{ read: SetupValues, complaint: string, at: HTMLInputElement | null }}
 */
function readForm(inputs) {
  /** @type {Record<string, string | number | null>} */
  const read = {};
  let complaint = "";
  let at = null;
  for (const [field, input] of inputs) {
    const text = input.value.trim();
    const number = Number(text.replace(",", "."));
    const [min, max] = field.range ?? [0, 0];
    let problem = "";
    if (field.required && !text) problem = `${field.label}: please fill in.`;
    else if (field.range && text && !(number >= min && number <= max)) {
      problem = `${field.label}: “${text}” is not a number from ${min} to ${max}.`;
    }
    input.setAttribute("aria-invalid", String(problem !== ""));
    if (problem && !complaint) [complaint, at] = [problem, input];
    read[field.name] = !field.range ? text : text === "" ? null : number;
  }
  const values = /** @type {SetupValues} */ (/** @type {unknown} */ (read));
  const { band_low_kmh: low, band_high_kmh: high } = values;
  if (!complaint && (low === null) !== (high === null)) complaint = "Speed: give both ends of the band, or neither.";
  if (!complaint && low !== null && high !== null && low >= high) complaint = "Speed: the band must rise from low to high.";
  return { read: values, complaint, at };
}
