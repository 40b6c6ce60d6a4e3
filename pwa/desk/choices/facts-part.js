// @ts-check
/** The facts of car and day among the choices; what is known of a car is filled in on request. */
import { FACTS, stated, tickedItems } from "../../shared/facts.js";
import { el } from "../page/dom.js";
import { createFactField } from "../page/fact-field.js";
import { known } from "../session/known.js";

/** @typedef {import("../session/documents").Setup} Setup */

/**
 * @param {object} ways
 * @param {(made: [string, unknown][]) => void} ways.change path and value; null takes the statement away
 * @param {() => void} ways.refresh show what was changed in every field
 */
export function createFactsPart({ change, refresh }) {
  /** @type {Setup} as the fields show it */
  let shown = {};
  const label = el("input", {
    id: "choice-vehicle_label", type: "text", size: 18, autocomplete: "off", list: "choice-cars",
    oninput: () => {
      change([["vehicle.label", label.value.trim() || null]]);
      void offer();
    },
  });
  const labels = el("datalist", { id: "choice-cars" });
  const fill = el("button", { type: "button", class: "quiet", hidden: true, onclick: () => void fillIn() }, "");
  const fields = Object.keys(FACTS).map((path) => {
    const field = createFactField(path, "choice", () => {
      const { value, problem } = field.read();
      if (!problem) change([[path, value]]);
    });
    return field;
  });
  const of = (/** @type {string} */ what) => fields.filter(({ fact }) => fact.of === what).map(({ element }) => element);

  /** What earlier sessions say of the car that is named, where this one doesn't say it. */
  async function missing() {
    const name = label.value.trim();
    const car = (await known()).cars.find((one) => one.label === name);
    return Object.entries(car?.facts ?? {}).filter(([path]) => stated(shown, path) === undefined);
  }

  async function offer() {
    const name = label.value.trim();
    const more = await missing();
    fill.hidden = more.length === 0;
    fill.textContent = `Fill in ${more.length === 1 ? "1 more fact" : `${more.length} more facts`} known of \u201c${name}\u201d`;
  }

  async function fillIn() {
    change(await missing());
    refresh();
  }

  async function offerLabels() {
    labels.replaceChildren(...(await known()).cars.map((car) => el("option", { value: car.label })));
    await offer();
  }

  return {
    elements: [
      el("h3", {}, "Car"),
      el("div", { class: "fields" }, el("div", { class: "field" }, el("label", { for: label.id }, "Car"), label, labels), ...of("car")), fill,
      el("h3", {}, "Day"), el("div", { class: "fields" }, ...of("day"))],
    /** @param {Setup} setup with what was changed @param {import("../session/documents").RawEvent[]} events */
    show(setup, events) {
      shown = setup;
      const ticked = tickedItems(events);
      label.value = setup.vehicle?.label ?? "";
      for (const { path, fact, fill: fillField } of fields) fillField(stated(setup, path), ticked.has(fact.ticked ?? ""));
      if (label.closest("details")?.open) void offerLabels();
    },
    /** The fields came into sight. */
    opened: () => void offerLabels(),
  };
}
