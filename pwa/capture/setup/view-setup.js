// @ts-check
/** The set-up form: the few things a result needs to know, remembered from last time. */
import { convert, COVERAGE_95, unitOf } from "../../shared/measures.js";
import { h, onTap } from "../page/dom.js";
import { checkedLapWords } from "./courses.js";
import { createFactFields } from "./fact-fields.js";

const MOST_CHIPS = 4;

/** @typedef {import("./types").SetupValues} SetupValues */
/** @typedef {import("./types").SetupField} Field */
/** @typedef {Field["name"]} FieldName */
/** @typedef {import("../../shared/measures.js").Units} Units */

/** @type {[string, Field[]][]} */
const GROUPS = [
  ["Session", [{ name: "title", label: "Title", required: true }]],
  ["Car", [{ name: "vehicle", label: "Which car", required: true }]],
  ["Course", [
    { name: "course", label: "Which course", required: true },
    { name: "surveyed_lap_m", label: "Surveyed lap", unit: "m", range: [10, 100000] },
    { name: "surveyed_lap_sd_m", label: "Survey accuracy ±", unit: "m (95 %)", range: [0, 1000], spread: true },
  ]],
  ["Drive", [
    { name: "start_soc_pct", label: "Start at", unit: "% shown", range: [0, 100], runOnly: true },
    { name: "band_low_kmh", label: "Speed from", range: [0, 400], runOnly: true, speed: true },
    { name: "band_high_kmh", label: "Speed to", range: [0, 400], runOnly: true, speed: true },
  ]],
];

/**
 * What is shown for one of what is stored: the user's unit, and for a standard deviation the half
 * width of its 95 % interval.
 * @param {Field} field @param {Units} units
 */
const scaleOf = (field, units) => (field.speed ? convert("speed", 1 / 3.6, units) : field.spread ? COVERAGE_95 : 1);

/** @param {Field} field @param {unknown} value @param {Units} units @returns {string} */
function shownIn(field, value, units) {
  const scale = scaleOf(field, units);
  return scale === 1 || typeof value !== "number" ? String(value ?? "") : String(Number((value * scale).toFixed(field.spread ? 2 : 1)));
}

/** @param {SetupValues} values @param {import("./types").SetupParts} parts */
export function createSetupView(values, { heading, next: nextLabel, purpose, courses, cars, units, save, back }) {
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
    input.defaultValue = shownIn(field, values[field.name], units);
    inputs.set(field, input);
    const unit = field.speed ? unitOf("speed", units) : field.unit;
    return h("label", { class: field.range ? "field short" : "field", for: id },
      h("span", {}, field.label),
      unit ? h("span", { class: "with-unit" }, input, h("i", {}, unit)) : input);
  };
  const wanted = GROUPS.map(([title, fields]) =>
    /** @type {[string, Field[]]} */ ([title, fields.filter((field) => purpose === "run" || !field.runOnly)]));
  const facts = createFactFields(values.facts, { cars, units });
  const groups = wanted.filter(([, fields]) => fields.length)
    .map(([title, fields]) => h("fieldset", {}, h("legend", {}, title), ...fields.map(row),
      ...(title === "Car" && purpose === "run" ? facts.ofCar : [])));
  if (purpose === "run") groups.push(h("fieldset", {}, h("legend", {}, "Day"), ...facts.ofDay));

  const checkedLap = offerCheckedLap(inputs, courses, values.use_checked_lap, units);
  for (const [{ name }, input] of inputs) {
    if (name === "course") input.closest("label")?.after(checkedLap.element);
    if (name === "vehicle") input.closest("label")?.after(facts.follow(input, values.vehicle));
  }

  const cancel = h("button", { class: "quiet" }, "Back");
  onTap(cancel, back);
  const next = h("button", { type: "submit", class: "key wide primary" }, h("span", {}, nextLabel));
  const form = h("form", { class: "form", novalidate: true }, ...groups, problem, next);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (next.disabled) return; // a second touch must not make a second session
    const [plan, told] = [readForm(inputs, values, units), facts.read()];
    const { complaint, at } = plan.complaint ? plan : told;
    const row = at?.closest("label");
    if (row) row.after(problem);
    else next.before(problem);
    problem.textContent = complaint;
    if (complaint) {
      const folded = at?.closest("details");
      if (folded) folded.open = true;
      at?.focus({ preventScroll: true });
      at?.scrollIntoView({ block: "center" });
      return;
    }
    next.disabled = true;
    void save({ ...values, ...plan.read, facts: told.facts, use_checked_lap: checkedLap.wanted() }).finally(() => {
      next.disabled = false;
    });
  });
  return h("main", { class: "page setup" },
    h("header", { class: "masthead small" }, h("h1", {}, heading), cancel), form);
}

/**
 * Courses this phone has been on, one touch each, and the lap that was checked there.
 * @param {Map<Field, HTMLInputElement>} inputs @param {import("./types").Courses} courses
 * @param {boolean} wanted @param {Units} units
 */
function offerCheckedLap(inputs, courses, wanted, units) {
  const input = (/** @type {FieldName} */ name) => [...inputs].find(([field]) => field.name === name)?.[1];
  const use = h("input", { type: "checkbox", name: "use_checked_lap", checked: wanted });
  const words = h("span");
  const row = h("label", { class: "check" }, use, words);
  const label = input("course");
  const show = () => {
    const lap = courses[label?.value.trim() ?? ""]?.checked_lap;
    row.hidden = !lap;
    words.textContent = lap ? `Use the lap checked there: ${checkedLapWords(lap)}` : "";
  };
  label?.addEventListener("input", show);
  const chips = Object.values(courses).slice(-MOST_CHIPS).map((course) => {
    const chip = h("button", { class: "chip" }, course.label);
    onTap(chip, () => {
      for (const [field, box] of inputs) {
        if (field.name === "surveyed_lap_m" || field.name === "surveyed_lap_sd_m") box.value = shownIn(field, course[field.name] ?? null, units);
      }
      if (label) label.value = course.label;
      show();
    });
    return chip;
  });
  show();
  const known = chips.length ? h("div", { class: "known", role: "group", "aria-label": "Courses of this phone" }, ...chips) : null;
  return { element: h("div", { class: "field-extra" }, known, row), wanted: () => use.checked };
}

/**
 * @param {Map<Field, HTMLInputElement>} inputs
 * @param {SetupValues} before what the form showed at first
 * @param {Units} units
 * @returns {{ read: Partial<SetupValues>, complaint: string, at: HTMLInputElement | null }}
 */
function readForm(inputs, before, units) {
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
    read[field.name] = !field.range ? text
      : text === "" ? null
        : text === input.defaultValue ? before[field.name] : number / scaleOf(field, units); // unrounded where untouched
  }
  const values = /** @type {Partial<SetupValues>} */ (/** @type {unknown} */ (read));
  const { band_low_kmh: low = null, band_high_kmh: high = null } = values;
  if (!complaint && (low === null) !== (high === null)) complaint = "Speed: give both ends of the band, or neither.";
  if (!complaint && low !== null && high !== null && low >= high) complaint = "Speed: the band must rise from low to high.";
  return { read: values, complaint, at };
}
