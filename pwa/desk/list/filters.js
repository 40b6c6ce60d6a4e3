// @ts-check
/** Finding sessions: text, vehicle, course, days, outcome, published, campaign, archived or not. */
import { request } from "../../shared/api.js";
import { el } from "../page/dom.js";

const TYPING_MS = 250;
/** @type {[string, string][]} */
export const OUTCOME_WORDS = [["past zero", "Past zero"], ["before zero", "Shut down before zero"], ["no drive", "No drive"]];

/**
 * @param {() => void} onChange
 */
export function createFilters(onChange) {
  const given = new URLSearchParams(window.location.search);
  let waiting = 0;
  const soon = () => {
    clearTimeout(waiting);
    waiting = window.setTimeout(changed, TYPING_MS);
  };
  const text = el("input", { id: "find-text", type: "search", value: given.get("text"), oninput: soon, autocomplete: "off", size: 22 });
  const vehicle = choice("vehicle", "Car", [["", "any"]]);
  const course = choice("course", "Course", [["", "any"]]);
  const outcome = choice("outcome", "Outcome", [["", "any"], ...OUTCOME_WORDS]);
  const published = choice("published", "Published", [["", "any"], ["yes", "yes"], ["no", "not yet"], ["differs", "figures changed since"]]);
  const campaign = choice("within", "Campaign", [["", "any"]]);
  const archived = choice("archived", "Show", [["no", "in use"], ["yes", "put away"], ["all", "all"]]);
  const from = el("input", { id: "find-from", type: "date", value: given.get("from"), onchange: changed });
  const to = el("input", { id: "find-to", type: "date", value: given.get("to"), onchange: changed });
  const clear = el("button", { type: "button", class: "quiet", onclick: reset }, "Clear");
  const fields = { text, vehicle, course, from, to, outcome, published, within: campaign, archived };
  const labelled = (/** @type {string} */ words, /** @type {HTMLElement} */ input) => el("div", { class: "field" }, el("label", { for: input.id }, words), input);
  const element = el("form", { class: "find", role: "search", "aria-label": "Find sessions", onsubmit: (/** @type {Event} */ event) => event.preventDefault() },
    labelled("Find", text), labelled("Car", vehicle), labelled("Course", course), labelled("From", from), labelled("To", to),
    labelled("Outcome", outcome), labelled("Published", published), labelled("Campaign", campaign), labelled("Show", archived), clear);

  /** @param {string} name @param {string} words @param {[string, string][]} options */
  function choice(name, words, options) {
    const select = el("select", { id: `find-${name}`, onchange: changed }, ...options.map(([value, shown]) => el("option", { value }, shown)));
    const wanted = given.get(name);
    if (wanted && !options.some(([value]) => value === wanted)) select.append(el("option", { value: wanted }, wanted));
    if (wanted) select.value = wanted;
    return select;
  }

  function reset() {
    for (const field of Object.values(fields)) field.value = "";
    archived.value = "no";
    changed();
    text.focus();
  }

  function changed() {
    onChange();
  }

  /** @returns {[string, string][]} what is asked for, empty fields left out */
  function asked() {
    return /** @type {[string, string][]} */ (Object.entries(fields).map(([name, field]) => [name, field.value.trim()]))
      .filter(([name, value]) => value !== "" && !(name === "archived" && value === "no"));
  }

  /** Labels and campaigns that can be chosen from now on. */
  async function offer() {
    const [labels, { campaigns }] = await Promise.all([request("/sessions/labels"), request("/campaigns")]);
    add(vehicle, labels.vehicles.map((/** @type {string} */ label) => [label, label]));
    add(course, labels.courses.map((/** @type {string} */ label) => [label, label]));
    add(campaign, campaigns.map((/** @type {import("../session/documents").Campaign} */ one) => [one.id, one.name]));
  }

  return { element, asked, offer };
}

/** @param {HTMLSelectElement} select @param {[string, string][]} options */
function add(select, options) {
  const there = new Map([...select.options].map((option) => [option.value, option]));
  for (const [value, words] of options) {
    const known = there.get(value);
    if (known) known.textContent = words;
    else select.append(el("option", { value }, words));
  }
}
