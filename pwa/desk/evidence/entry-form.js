// @ts-check
/** What typing a reading and typing an event share: the frame of the form, its two states, saving. */
import { el } from "../dom.js";
import { createFormStatus } from "../form-status.js";
import { save, stableIds } from "./save.js";

/** @typedef {import("../model.js").Model} Model */

/**
 * @param {object} parts
 * @param {"event" | "reading"} parts.noun also the start of the ids
 * @param {string} parts.adding title while nothing is corrected
 * @param {Node[]} parts.fields
 * @param {(withdrawing: boolean) => void} parts.onSend
 * @param {() => void} parts.onCancel
 */
export function createEntryForm({ noun, adding, fields, onSend, onCancel }) {
  const idFor = stableIds();
  const title = el("h3", { id: `${noun}-form-title` }, adding);
  const note = el("p", { class: "form-note" });
  const submit = el("button", { type: "submit", class: "primary" }, `Save ${noun}`);
  const cancel = el("button", { type: "button", class: "quiet", hidden: true, onclick: () => onCancel() }, "Cancel");
  const withdraw = el("button", { type: "button", class: "quiet danger", hidden: true, onclick: () => onSend(true) }, "Withdraw it");
  const status = createFormStatus();
  const element = el("form", {
    class: "entry-form", novalidate: true, "aria-labelledby": title.id,
    onsubmit: (/** @type {SubmitEvent} */ event) => {
      event.preventDefault();
      onSend(false);
    },
  },
  title, note,
  el("div", { class: "fields" }, ...fields),
  el("div", { class: "form-actions" }, submit, withdraw, cancel, status.element));

  return {
    element,
    note,
    say: status.say,

    /** Back to adding. */
    add() {
      title.textContent = adding;
      submit.textContent = `Save ${noun}`;
      cancel.hidden = true;
      withdraw.hidden = true;
    },

    /** @param {boolean} withdrawn whether the record was taken back and may now be restored */
    correct(withdrawn) {
      title.textContent = withdrawn ? `Restore a withdrawn ${noun}` : `Correct ${noun === "event" ? "an" : "a"} ${noun}`;
      submit.textContent = withdrawn ? "Restore it" : "Save correction";
      cancel.hidden = false;
      withdraw.hidden = withdrawn;
      status.say("", "soft");
      element.scrollIntoView({ block: "center" });
    },

    /**
     * Save a new record and have everything fetched anew; what was typed stays when it fails.
     * @param {string} sessionId
     * @param {object} content the record without its id
     * @param {() => string} stored called once the server holds it; what to tell the user
     * @param {() => Promise<void>} onSaved
     * @returns {Promise<boolean>} whether it was saved
     */
    async send(sessionId, content, stored, onSaved) {
      submit.disabled = true;
      status.say("Saving\u2026", "soft");
      try {
        await save(sessionId, `${noun}s`, { id: idFor(content), ...content });
      } catch (error) {
        status.say(`Not saved: ${error instanceof Error ? error.message : error} What you typed is still here.`, "alarm");
        return false;
      } finally {
        submit.disabled = false;
      }
      const said = stored();
      status.say(`${said} Working the figures out again\u2026`, "soft");
      await onSaved();
      status.say(`${said} The figures follow.`, "good");
      return true;
    },
  };
}

/** What a withdrawal says, of either. */
export const WITHDRAWN = "Withdrawn; the original is kept.";

/**
 * @param {Model} model
 * @returns {number} a moment of the session
 */
export function startOf(model) {
  return model.result.zero.t_ms ?? model.curves.t_ms[0] ?? model.events[0]?.atMs ?? model.readings[0]?.atMs
    ?? Date.parse(model.session.setup.session?.started_at ?? "") ?? 0;
}
