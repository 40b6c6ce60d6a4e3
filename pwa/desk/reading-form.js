// @ts-check
/** Typing a reading in afterwards, and correcting or withdrawing one. */
import { READING_KINDS, readingName, unitName } from "../shared/vocabulary.js";
import { el } from "./dom.js";
import { createFormStatus, point } from "./form-status.js";
import { createMomentField, readNumber } from "./moment-field.js";
import { save, stableIds } from "./save.js";

/** @typedef {import("./model.js").Model} Model */
/** @typedef {import("./model.js").ReadingRow} ReadingRow */

/**
 * @param {import("./cursor.js").Cursor} cursor
 * @param {() => Promise<void>} onSaved fetch everything anew
 */
export function createReadingForm(cursor, onSaved) {
  /** @type {Model | null} */
  let model = null;
  /** @type {ReadingRow | null} */
  let correcting = null;
  const idFor = stableIds();
  /** what was last used for each quantity @type {Map<string, { unit: string, resolution: string, rounding: string }>} */
  const habits = new Map();

  const quantity = el("select", { id: "reading-quantity", onchange: fitQuantity },
    ...Object.entries(READING_KINDS).map(([name, kind]) => el("option", { value: name }, kind.name)));
  const value = el("input", { id: "reading-value", type: "text", inputmode: "decimal", autocomplete: "off", size: 8, required: true });
  const unit = el("select", { id: "reading-unit" });
  const resolution = el("input", { id: "reading-resolution", type: "text", inputmode: "decimal", autocomplete: "off", size: 6 });
  const rounding = el("select", { id: "reading-rounding" },
    el("option", { value: "nearest" }, "to nearest"), el("option", { value: "down" }, "down"));
  const moment = createMomentField(cursor, "reading-moment");
  const title = el("h3", { id: "reading-form-title" }, "Type a reading");
  const note = el("p", { class: "form-note" });
  const submit = el("button", { type: "submit", class: "primary" }, "Save reading");
  const cancel = el("button", { type: "button", class: "quiet", hidden: true, onclick: () => leave() }, "Cancel");
  const withdraw = el("button", { type: "button", class: "quiet danger", hidden: true, onclick: () => void send(true) }, "Withdraw it");
  const status = createFormStatus();

  const element = el("form", {
    class: "entry-form", novalidate: true, "aria-labelledby": "reading-form-title",
    onsubmit: (/** @type {SubmitEvent} */ event) => {
      event.preventDefault();
      void send(false);
    },
  },
  title, note,
  el("div", { class: "fields" },
    field("What", quantity), field("Value shown", value), field("Unit", unit),
    field("Last digit", resolution), field("Rounded", rounding), moment.element),
  el("div", { class: "form-actions" }, submit, withdraw, cancel, status.element));

  /**
   * @param {string} words
   * @param {HTMLElement} input
   */
  function field(words, input) {
    return el("div", { class: "field" }, el("label", { for: input.id }, words), input);
  }

  function fitQuantity() {
    const kind = READING_KINDS[quantity.value];
    if (!kind) return;
    const habit = habits.get(quantity.value);
    unit.replaceChildren(...kind.units.map((name) => el("option", { value: name }, unitName(name))));
    unit.value = habit?.unit ?? kind.units[0] ?? "";
    resolution.value = habit?.resolution ?? String(kind.resolution);
    rounding.value = habit?.rounding ?? "nearest";
  }

  function explain() {
    note.textContent = correcting
      ? `${readingName(correcting.record.quantity)} at ${model?.clock.time(correcting.atMs) ?? ""}: a new record takes its place, the original stays and can be seen.`
      : "What the display showed, with its last digit: 6.4 with a last digit of 0.1 means 6.35 to 6.45.";
  }

  function leave() {
    correcting = null;
    title.textContent = "Type a reading";
    submit.textContent = "Save reading";
    quantity.disabled = false;
    cancel.hidden = true;
    withdraw.hidden = true;
    value.value = "";
    explain();
  }

  /** @param {boolean} withdrawing */
  async function send(withdrawing) {
    if (!model) return;
    const figure = readNumber(value.value);
    if (!withdrawing && figure === null) {
      status.say("The value must be a number, for example 6.4.", "alarm");
      return point(value);
    }
    const digit = resolution.value.trim() === "" ? null : readNumber(resolution.value);
    if (!withdrawing && resolution.value.trim() !== "" && (digit === null || digit <= 0)) {
      status.say("The last digit must be a number above zero, for example 0.1, or empty if not known.", "alarm");
      return point(resolution);
    }
    const tMs = moment.read();
    if (tMs === null) {
      status.say("The moment must be a time of day such as 15:04:05.", "alarm");
      return point(moment.input);
    }
    const content = {
      device: "desk", t_ms: tMs, quantity: quantity.value, value: withdrawing ? null : figure,
      unit: unit.value, resolution: digit, rounding: rounding.value, source: "typed", photo: null,
      corrects: correcting?.record.id ?? null,
    };
    submit.disabled = true;
    status.say("Saving\u2026", "soft");
    try {
      await save(model.id, "readings", { id: idFor(content), ...content });
    } catch (error) {
      status.say(`Not saved: ${error instanceof Error ? error.message : error} What you typed is still here.`, "alarm");
      return;
    } finally {
      submit.disabled = false;
    }
    habits.set(quantity.value, { unit: unit.value, resolution: resolution.value, rounding: rounding.value });
    const said = withdrawing ? "Withdrawn; the original is kept." : `Saved ${readingName(quantity.value).toLowerCase()} ${value.value.trim()} ${unitName(unit.value)} at ${moment.input.value}.`;
    leave();
    status.say(`${said} Working the figures out again\u2026`, "soft");
    await onSaved();
    status.say(`${said} The figures follow.`, "good");
    value.focus();
  }

  fitQuantity();
  explain();
  return {
    element,
    /** @param {Model} nextModel */
    update(nextModel) {
      model = nextModel;
      moment.update(nextModel.clock, startOf(nextModel));
    },
    /** @param {ReadingRow} row */
    correct(row) {
      const shown = row.withdrawn ? (row.earlier[0] ?? row.record) : row.record;
      correcting = row;
      quantity.value = shown.quantity;
      fitQuantity();
      quantity.disabled = true;
      value.value = shown.value === null ? "" : String(shown.value);
      unit.value = shown.unit;
      resolution.value = shown.resolution === null || shown.resolution === undefined ? "" : String(shown.resolution);
      rounding.value = shown.rounding ?? "nearest";
      moment.set(row.atMs);
      title.textContent = row.withdrawn ? "Restore a withdrawn reading" : "Correct a reading";
      submit.textContent = row.withdrawn ? "Restore it" : "Save correction";
      cancel.hidden = false;
      withdraw.hidden = row.withdrawn;
      explain();
      status.say("", "soft");
      element.scrollIntoView({ block: "center" });
      value.focus();
      value.select();
    },
  };
}

/**
 * @param {Model} model
 * @returns {number} a moment of the session
 */
export function startOf(model) {
  return model.result.zero.t_ms ?? model.curves.t_ms[0] ?? model.events[0]?.atMs ?? model.readings[0]?.atMs
    ?? Date.parse(model.session.setup.session?.started_at ?? "") ?? 0;
}
