// @ts-check
/** Warnings that no one has put into a class, though their words were before: all of them in one go. */
import { EVENTS } from "../../shared/vocabulary.js";
import { classOf } from "../../shared/warnings.js";
import { el } from "../page/dom.js";
import { createFormStatus } from "../page/form-status.js";
import { working } from "../page/keep-focus.js";
import { clockOffsets } from "../session/clock.js";
import { known } from "../session/known.js";
import { recordMaker, save } from "./save.js";

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {import("../session/documents").RawEvent} RawEvent */

/** @param {() => Promise<void>} onSaved fetch everything anew */
export function createClassOffer(onSaved) {
  const make = recordMaker();
  /** @type {Model | null} */
  let model = null;
  /** @type {RawEvent[]} as they would be */
  let classed = [];
  const list = el("ul", {});
  const accept = el("button", { type: "button", class: "quiet", onclick: () => void working(accept, keep) }, "Put them into these classes");
  const status = createFormStatus();
  const offer = el("div", { hidden: true }, el("p", {}, "The same words were classed before:"), list, accept);
  const element = el("div", { class: "class-offer" }, offer);

  /** @param {Model} of */
  async function look(of) {
    const open = of.events.filter(({ record, withdrawn }) => !withdrawn && record.kind === "warning" && record.text && !record.class);
    const { warnings } = open.length ? await known() : { warnings: [] };
    if (of !== model) return;
    classed = open.map(({ record }) => ({ ...record, class: classOf(warnings, record.text ?? "") })).filter(({ class: name }) => name);
    offer.hidden = classed.length === 0;
    list.replaceChildren(...classed.map(({ text, class: name }) =>
      el("li", {}, `\u201c${text}\u201d: ${EVENTS.warning?.choices?.words[name ?? ""] ?? name}`)));
  }

  /** Corrections: each takes the place of a warning, whose moment and words it keeps. */
  async function keep() {
    if (!model) return;
    element.append(status.element); // none is there while nothing was tried
    status.say("Saving\u2026", "soft");
    const offsetMs = clockOffsets(model.session);
    const events = classed.map((record) => make({
      reason: "same words as before", device: "desk", t_ms: Math.round(record.t_ms + offsetMs(record.device)), kind: record.kind,
      text: record.text, class: record.class, value: null, unit: null, tap_delay_s: record.tap_delay_s ?? null, corrects: record.id,
    }));
    try {
      await save(model.id, { events });
      status.say(`${events.length === 1 ? "1 warning" : `${events.length} warnings`} put into a class. The figures follow.`, "good");
      await onSaved();
    } catch (error) {
      status.say(`Not saved: ${error instanceof Error ? error.message : error}`, "alarm");
    }
  }

  return {
    element,
    /** @param {Model} next */
    update(next) {
      model = next;
      void look(next);
    },
  };
}
