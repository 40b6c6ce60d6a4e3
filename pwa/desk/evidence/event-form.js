// @ts-check
/** Adding an event that nobody tapped, and correcting or withdrawing one. */
import { choicesOf, chosenOf, EVENTS, eventName, eventWords, unitName } from "../../shared/vocabulary.js";
import { classOf } from "../../shared/warnings.js";
import { el } from "../page/dom.js";
import { point } from "../page/form-status.js";
import { reveal } from "../page/parts.js";
import { forgetKnown, known } from "../session/known.js";
import { NOTHING_NEW, WITHDRAWN, createEntryForm, saysTheSame, startOf } from "./entry-form.js";
import { createMomentField, readNumber } from "./moment-field.js";

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {import("../session/model.js").EventRow} EventRow */

/**
 * @param {import("../session/cursor.js").Cursor} cursor
 * @param {() => Promise<void>} onSaved fetch everything anew
 */
export function createEventForm(cursor, onSaved) {
  /** @type {Model | null} */
  let model = null;
  /** @type {EventRow | null} */
  let correcting = null;
  /** the tap's own moment and delay, kept when a correction doesn't touch them
   * @type {{ tMs: number, delay: import("../session/documents").RawEvent["tap_delay_s"] } | null} */
  let kept = null;
  /** the estimated moment that the form was filled with @type {number | null} */
  let keptAtMs = null;

  const kind = el("select", { id: "event-kind", onchange: fitKind },
    ...Object.entries(EVENTS).map(([name, known]) => el("option", { value: name }, known.name)));
  const text = el("input", { id: "event-text", type: "text", autocomplete: "off", oninput: () => void proposeClass() });
  const value = el("input", { id: "event-value", type: "text", inputmode: "decimal", autocomplete: "off", size: 6 });
  const unit = el("select", { id: "event-unit", "aria-label": "Unit of the value" });
  const valueField = el("div", { class: "field" }, el("label", { for: "event-value" }, "Value shown"),
    el("div", { class: "field-joined" }, value, unit));
  const choice = el("select", {
    id: "event-choice", onchange: () => {
      proposal.textContent = "";
      fitText();
    },
  });
  const proposal = el("span", { class: "field-note", role: "status" });
  const choiceName = el("label", { for: "event-choice" }, "Which");
  const choiceField = el("div", { class: "field" }, choiceName, choice, proposal);
  const textField = el("div", { class: "field field-wide" }, el("label", { for: "event-text" }, "What the car said, or a remark"), text);
  const moment = createMomentField(cursor, "event-moment");
  const exactness = el("input", { id: "event-exactness", type: "text", inputmode: "decimal", size: 5, value: "1" });
  const exactField = el("div", { class: "field" }, el("label", { for: "event-exactness" }, "Sure to within \u00b1 s"), exactness);
  const form = createEntryForm({
    noun: "event",
    adding: "Add an event",
    fields: [
      el("div", { class: "field" }, el("label", { for: "event-kind" }, "What happened"), kind),
      valueField, choiceField,
      textField,
      moment.element, exactField,
    ],
    onSend: (withdrawing) => void send(withdrawing),
    onCancel: leave,
  });

  function fitKind() {
    const { value: figure, choices } = EVENTS[kind.value] ?? {};
    valueField.hidden = !figure;
    unit.replaceChildren(...(figure?.units ?? []).map((name) => el("option", { value: name }, unitName(name))));
    choiceField.hidden = !choices;
    choiceName.textContent = choices?.label ?? "";
    proposal.textContent = "";
    choice.replaceChildren(el("option", { value: "" }, "not stated"),
      ...choicesOf(kind.value).map(({ name, words }) => el("option", { value: name }, words)));
    fitText();
  }

  /** The same words as before are most likely the same warning; whoever types has the last word. */
  async function proposeClass() {
    const isProposed = proposal.textContent !== "";
    if (EVENTS[kind.value]?.choices?.key !== "class" || (choice.value !== "" && !isProposed)) return;
    const said = text.value;
    const proposed = said.trim() ? classOf((await known()).warnings, said) : "";
    if (said !== text.value || !(proposed in (EVENTS[kind.value]?.choices?.words ?? {}) || isProposed)) return;
    choice.value = proposed;
    proposal.textContent = proposed ? "as these words were classed before" : "";
  }

  /** A choice that is kept as the text takes its place. */
  function fitText() {
    textField.hidden = choice.value !== "" && EVENTS[kind.value]?.choices?.key === "text";
  }

  function explain() {
    form.note.textContent = correcting
      ? `${eventName(correcting.record.kind)} at ${model?.clock.time(correcting.atMs) ?? ""}: a new record takes its place, the original stays and can be seen. Leave the moment as it is to keep the tap\u2019s own time and delay.`
      : "For something seen on film or remembered: place the cursor where it happened, type the time, or the film time of a camera with a film sync.";
  }

  function leave() {
    correcting = null;
    kept = null;
    form.add();
    text.value = "";
    choice.value = "";
    value.value = "";
    fitText();
    moment.clear();
    explain();
  }

  /** @param {boolean} withdrawing */
  async function send(withdrawing) {
    if (!model) return;
    const tMs = moment.read();
    if (tMs === null) {
      form.say("The moment must be a time of day such as 15:04:05.", "alarm");
      return point(moment.input);
    }
    const figure = value.value.trim() === "" ? null : readNumber(value.value);
    if (!valueField.hidden && value.value.trim() !== "" && figure === null) {
      form.say("The value must be a number, for example 70.", "alarm");
      return point(value);
    }
    const within = readNumber(exactness.value);
    const asTapped = kept !== null && (withdrawing || (moment.untouched() && tMs === keptAtMs));
    if (!asTapped && (within === null || within <= 0)) {
      form.say("How sure the moment is must be a number of seconds above zero.", "alarm");
      return point(exactness);
    }
    // A moment set at the desk is nobody's tap: no delay, and ± is taken as 95 %
    const delay = asTapped ? (kept?.delay ?? null) : { mean: 0, sd: Number(within) / 1.96 };
    const reason = form.readReason();
    if (reason === null) return;
    const corrects = correcting?.record.id ?? null;
    const why = corrects === null ? {} : { reason };
    const content = withdrawing
      ? { ...why, device: "desk", t_ms: kept?.tMs ?? tMs, kind: "note", text: "withdrawn", value: null, unit: null, tap_delay_s: null, corrects, withdraws: true }
      : {
        ...why, device: "desk", t_ms: asTapped ? (kept?.tMs ?? tMs) : tMs, kind: kind.value, text: text.value.trim() || null,
        ...choicesOf(kind.value).find(({ name }) => name === choice.value)?.detail,
        value: valueField.hidden ? null : figure, unit: valueField.hidden || figure === null ? null : unit.value,
        tap_delay_s: delay, corrects,
      };
    const before = correcting?.withdrawn ? null : correcting?.record;
    if (before && !withdrawing && asTapped && saysTheSame(before, content)) return form.say(NOTHING_NEW, "alarm");
    await form.send(model, content, () => {
      forgetKnown();
      const said = withdrawing ? WITHDRAWN : `Saved \u201c${eventWords(/** @type {import("../../shared/vocabulary.js").Said} */ (content))}\u201d at ${moment.input.value}.`;
      leave();
      return said;
    }, onSaved);
  }

  fitKind();
  explain();
  return {
    element: form.element,
    /** @param {Model} nextModel */
    update(nextModel) {
      model = nextModel;
      moment.update(nextModel, startOf(nextModel));
    },
    /**
     * Start a new event of some kind, at a moment when one is given.
     * @param {string} name
     * @param {number | null} atMs
     */
    start(name, atMs) {
      leave();
      kind.value = name;
      fitKind();
      if (atMs !== null) moment.set(atMs);
      reveal(form.element);
      form.element.scrollIntoView({ block: "center" });
      (name === "note" ? text : kind).focus();
    },
    /**
     * @param {EventRow} row
     * @param {(device: string) => number} offsetMs
     */
    correct(row, offsetMs) {
      const shown = row.withdrawn ? (row.earlier[0] ?? row.record) : row.record;
      correcting = row;
      kept = { tMs: Math.round(shown.t_ms + offsetMs(shown.device)), delay: shown.tap_delay_s ?? null };
      kind.value = shown.kind in EVENTS ? shown.kind : "note";
      fitKind();
      choice.value = chosenOf({ ...shown, kind: kind.value });
      const isText = choice.value !== "" && EVENTS[kind.value]?.choices?.key === "text";
      text.value = shown.text && !isText ? shown.text : "";
      fitText();
      void proposeClass();
      value.value = typeof shown.value === "number" ? String(shown.value) : "";
      if (shown.unit) unit.value = shown.unit;
      moment.set(row.atMs);
      keptAtMs = Math.round(row.atMs);
      explain();
      form.correct(row.withdrawn);
      kind.focus();
    },
  };
}
