// @ts-check
/** Typing a reading in afterwards, and correcting or withdrawing one. */
import { lastDigit, READINGS, readingName, shownResolution, unitName, usualResolution } from "../../shared/vocabulary.js";
import { el } from "../page/dom.js";
import { point } from "../page/form-status.js";
import { reveal } from "../page/parts.js";
import { recordWords } from "../words/wording.js";
import { NOTHING_NEW, WITHDRAWN, createEntryForm, saysTheSame, startOf } from "./entry-form.js";
import { habitOf, keepHabit } from "./habits.js";
import { createMomentField, readNumber } from "./moment-field.js";

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {import("../session/model.js").ReadingRow} ReadingRow */

/**
 * @param {import("../session/cursor.js").Cursor} cursor
 * @param {() => Promise<void>} onSaved fetch everything anew
 */
export function createReadingForm(cursor, onSaved) {
  /** @type {Model | null} */
  let model = null;
  /** @type {ReadingRow | null} */
  let correcting = null;

  const quantity = el("select", { id: "reading-quantity", onchange: fitQuantity },
    ...Object.entries(READINGS).map(([name, kind]) => el("option", { value: name }, kind.name)));
  const value = el("input", { id: "reading-value", type: "text", inputmode: "decimal", autocomplete: "off", size: 8, required: true });
  const unit = el("select", { id: "reading-unit", onchange: () => (resolution.value = String(usualResolution(quantity.value, unit.value))) });
  const resolution = el("input", { id: "reading-resolution", type: "text", inputmode: "decimal", autocomplete: "off", size: 6 });
  const rounding = el("select", { id: "reading-rounding" },
    el("option", { value: "nearest" }, "to nearest"), el("option", { value: "down" }, "down"), el("option", { value: "about" }, "about, said roughly"));
  const moment = createMomentField(cursor, "reading-moment");
  const form = createEntryForm({
    noun: "reading",
    adding: "Type a reading",
    fields: [
      field("What", quantity), field("Value shown", value), field("Unit", unit),
      field("Last digit", resolution), field("Rounded", rounding), moment.element,
    ],
    onSend: (withdrawing) => void send(withdrawing),
    onCancel: leave,
  });

  /**
   * @param {string} words
   * @param {HTMLElement} input
   */
  function field(words, input) {
    return el("div", { class: "field" }, el("label", { for: input.id }, words), input);
  }

  function fitQuantity() {
    const kind = READINGS[quantity.value];
    if (!kind) return;
    const habit = habitOf(quantity.value);
    unit.replaceChildren(...kind.units.map((name) => el("option", { value: name }, unitName(name))));
    unit.value = habit.unit;
    resolution.value = habit.resolution;
    rounding.value = habit.rounding;
  }

  function explain() {
    form.note.textContent = correcting
      ? `${readingName(correcting.record.quantity)} at ${model?.clock.time(correcting.atMs) ?? ""}: a new record takes its place, the original stays and can be seen.`
      : "What the display showed, with its last digit: 6.4 with a last digit of 0.1 means 6.35 to 6.45. Said roughly, \u201cabout 2\u201d means 1 to 3 and \u201cabout 2.0\u201d 1.9 to 2.1.";
  }

  function leave() {
    correcting = null;
    form.add();
    quantity.disabled = false;
    value.value = "";
    explain();
  }

  /** @param {boolean} withdrawing */
  async function send(withdrawing) {
    if (!model) return;
    const figure = readNumber(value.value);
    if (!withdrawing && figure === null) {
      form.say("The value must be a number, for example 6.4.", "alarm");
      return point(value);
    }
    const digit = resolution.value.trim() === "" ? null : readNumber(resolution.value);
    if (!withdrawing && resolution.value.trim() !== "" && (digit === null || digit <= 0)) {
      form.say("The last digit must be a number above zero, for example 0.1, or empty if not known.", "alarm");
      return point(resolution);
    }
    const about = rounding.value === "about";
    const tMs = moment.read();
    if (tMs === null) {
      form.say("The moment must be a time of day such as 15:04:05.", "alarm");
      return point(moment.input);
    }
    const reason = form.readReason();
    if (reason === null) return;
    const content = {
      ...(correcting ? { reason } : {}), device: "desk", t_ms: tMs, quantity: quantity.value, value: withdrawing ? null : figure,
      unit: unit.value, resolution: about ? lastDigit(value.value) : digit && shownResolution(value.value, digit), rounding: about ? "nearest" : rounding.value,
      ...(about ? { about } : {}), source: "typed", photo: correcting?.record.photo ?? null,
      corrects: correcting?.record.id ?? null,
    };
    const before = correcting?.withdrawn ? null : correcting?.record;
    if (before && !withdrawing && moment.untouched() && saysTheSame(before, content)) return form.say(NOTHING_NEW, "alarm");
    const saved = await form.send(model, content, () => {
      if (about) fitQuantity(); // the next figure is as the display shows it again
      else keepHabit(quantity.value, { unit: unit.value, resolution: resolution.value, rounding: rounding.value });
      const said = withdrawing ? WITHDRAWN : `Saved \u201c${recordWords({ ...content, id: "", rounding: null })}\u201d at ${moment.input.value}.`;
      leave();
      return said;
    }, onSaved);
    if (saved) value.focus();
  }

  fitQuantity();
  explain();
  return {
    element: form.element,
    /** @param {Model} nextModel */
    update(nextModel) {
      model = nextModel;
      if (!correcting && value.value === "") fitQuantity();
      moment.update(nextModel, startOf(nextModel));
    },
    /** @param {string} name start a new reading of this quantity */
    start(name) {
      leave();
      quantity.value = name;
      fitQuantity();
      reveal(form.element);
      form.element.scrollIntoView({ block: "center" });
      value.focus();
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
      rounding.value = shown.about ? "about" : shown.rounding ?? "nearest";
      moment.set(row.atMs);
      explain();
      form.correct(row.withdrawn);
      value.focus();
      value.select();
    },
  };
}
