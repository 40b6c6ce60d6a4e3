// @ts-check
/** The figures that one photo shows: a row each, with unit, last digit and rounding remembered. */
import { READINGS, readingName, shownResolution, unitName, usualResolution } from "../../shared/vocabulary.js";
import { habitOf, keepHabit, keepPhotoFigures, photoFigures } from "../evidence/habits.js";
import { readNumber } from "../evidence/moment-field.js";
import { el } from "../page/dom.js";
import { point } from "../page/form-status.js";

/** @typedef {import("../session/documents").RawReading} RawReading */
/** @typedef {Pick<RawReading, "quantity" | "value" | "unit" | "resolution" | "rounding">} Shown */
/**
 * @typedef {object} Row
 * @property {string} quantity
 * @property {HTMLElement} element
 * @property {HTMLInputElement} value
 * @property {HTMLSelectElement} unit
 * @property {HTMLInputElement} resolution
 * @property {HTMLSelectElement} rounding
 * @property {HTMLElement} state
 * @property {RawReading | null} standing what is held of this photo already
 */

/** @param {() => void} onDone Enter in the last row */
export function createFigureRows(onDone) {
  /** @type {Row[]} */
  let rows = [];
  const list = el("div", { class: "figure-rows" });
  const more = el("select", {
    class: "quiet-select", "aria-label": "Add a figure that the photos show",
    onchange: () => {
      const row = add(more.value);
      keepPhotoFigures(rows.map(({ quantity }) => quantity));
      offer();
      row.value.focus();
    },
  });
  const element = el("div", {}, list, more);

  function offer() {
    const there = new Set(rows.map(({ quantity }) => quantity));
    more.replaceChildren(el("option", { value: "" }, "Add a figure\u2026"),
      ...Object.keys(READINGS).filter((name) => !there.has(name)).map((name) => el("option", { value: name }, readingName(name))));
  }

  /**
   * @param {string} quantity
   * @returns {Row}
   */
  function add(quantity) {
    const id = `photo-${quantity}`;
    const name = readingName(quantity);
    const value = el("input", {
      id, class: "figure-row-value", type: "text", inputmode: "decimal", autocomplete: "off", size: 7,
      onkeydown: (/** @type {KeyboardEvent} */ event) => {
        if (event.key !== "Enter" || event.ctrlKey) return;
        event.preventDefault();
        const next = rows[rows.indexOf(row) + 1];
        if (next) {
          next.value.focus();
          next.value.select();
        } else onDone();
      },
    });
    const unit = el("select", {
      "aria-label": `Unit of ${name}`, onchange: () => (resolution.value = String(usualResolution(quantity, unit.value))),
    },
      ...(READINGS[quantity]?.units ?? []).map((one) => el("option", { value: one }, unitName(one))));
    const resolution = el("input", { type: "text", inputmode: "decimal", size: 5, "aria-label": `Last digit of ${name}`, title: "Last digit" });
    const rounding = el("select", { "aria-label": `Rounding of ${name}` },
      el("option", { value: "nearest" }, "to nearest"), el("option", { value: "down" }, "down"));
    const state = el("span", { class: "figure-row-state" });
    const element = el("div", { class: "figure-row" }, el("label", { for: id }, name), value, unit, resolution, rounding,
      el("button", {
        type: "button", class: "quiet small", "aria-label": `Leave out ${name}`, title: "Leave this figure out",
        onclick: () => {
          rows = rows.filter((other) => other !== row);
          element.remove();
          keepPhotoFigures(rows.map((other) => other.quantity));
          offer();
          (rows[0]?.value ?? more).focus();
        },
      }, "\u00d7"), state);
    /** @type {Row} */
    const row = { quantity, element, value, unit, resolution, rounding, state, standing: null };
    rows.push(row);
    list.append(element);
    dressAs(row, habitOf(quantity));
    return row;
  }

  /** @param {Row} row @param {import("../evidence/habits.js").Habit} habit */
  function dressAs({ unit, resolution, rounding }, habit) {
    unit.value = habit.unit;
    resolution.value = habit.resolution;
    rounding.value = habit.rounding;
  }

  for (const quantity of photoFigures()) add(quantity);
  offer();

  return {
    element,
    focus() {
      rows[0]?.value.focus();
      rows[0]?.value.select();
    },
    /** @param {RawReading[]} held what stands of this photo: filled in, so that it can be corrected */
    show(held) {
      for (const reading of held) if (!rows.some(({ quantity }) => quantity === reading.quantity)) add(reading.quantity);
      offer();
      for (const row of rows) {
        const reading = held.find(({ quantity }) => quantity === row.quantity) ?? null;
        row.standing = reading;
        row.value.value = reading?.value === null || reading === null ? "" : String(reading.value);
        row.value.removeAttribute("aria-invalid");
        row.state.textContent = reading ? "held" : "";
        dressAs(row, reading ? { unit: reading.unit, resolution: reading.resolution ? String(reading.resolution) : "", rounding: reading.rounding ?? "nearest" }
          : habitOf(row.quantity));
      }
    },
    /**
     * What was typed and is not held yet.
     * @returns {{ shown: Shown, corrects: RawReading | null }[] | string} words when a row makes no sense
     */
    read() {
      const found = [];
      for (const row of rows) {
        const name = readingName(row.quantity);
        const text = row.value.value.trim();
        if (text === "" && !row.standing) continue;
        const value = text === "" ? null : readNumber(text);
        if (text !== "" && value === null) {
          point(row.value);
          return `${name} must be a number, for example 6.4.`;
        }
        const digits = row.resolution.value.trim();
        const stated = digits === "" ? null : readNumber(digits);
        if (digits !== "" && (stated === null || stated <= 0)) {
          point(row.resolution);
          return `The last digit of ${name.toLowerCase()} must be a number above zero, for example 0.1, or empty if not known.`;
        }
        const resolution = stated && shownResolution(text, stated);
        const rounding = row.rounding.value === "down" ? /** @type {const} */ ("down") : /** @type {const} */ ("nearest");
        const shown = { quantity: row.quantity, value, unit: row.unit.value, resolution, rounding };
        const was = row.standing;
        if (was && was.value === value && was.unit === shown.unit && (was.resolution ?? null) === resolution && (was.rounding ?? "nearest") === rounding) continue;
        if (value !== null) keepHabit(row.quantity, { unit: shown.unit, resolution: digits, rounding });
        found.push({ shown, corrects: was });
      }
      return found;
    },
  };
}
