// @ts-check
/** What typing a reading and typing an event share: the frame of the form, its two states, saving. */
import { el } from "../page/dom.js";
import { createFormStatus, point } from "../page/form-status.js";
import { isWorking, working } from "../page/keep-focus.js";
import { reveal } from "../page/parts.js";
import { differences } from "../words/wording.js";
import { createConflict } from "./conflict.js";
import { SaveConflict, recordMaker, save } from "./save.js";
import { createWriterField } from "./writer.js";

/** @typedef {import("../session/model.js").Model} Model */

const REASONS = ["typing error", "read again from the photo", "read again on film", "tapped by mistake", "tapped late", "wrong kind of event", "class of the warning"];

/**
 * @param {object} parts
 * @param {"event" | "reading"} parts.noun also the start of the ids
 * @param {string} parts.adding title while nothing is corrected
 * @param {Node[]} parts.fields
 * @param {(withdrawing: boolean) => void} parts.onSend
 * @param {() => void} parts.onCancel
 */
export function createEntryForm({ noun, adding, fields, onSend, onCancel }) {
  const make = recordMaker();
  const title = el("h3", { id: `${noun}-form-title` }, adding);
  const note = el("p", { class: "form-note" });
  const submit = el("button", { type: "submit", class: "primary" }, `Save ${noun}`);
  const cancel = el("button", { type: "button", class: "quiet", hidden: true, onclick: () => onCancel() }, "Cancel");
  const withdraw = el("button", { type: "button", class: "quiet danger", hidden: true, onclick: () => onSend(true) }, "Take it back");
  const status = createFormStatus();
  const reason = el("input", { id: `${noun}-reason`, type: "text", autocomplete: "off", list: `${noun}-reasons`, size: 24 });
  const reasonField = el("div", { class: "field field-reason", hidden: true },
    el("label", { for: reason.id }, "Why it is changed"), reason,
    el("datalist", { id: `${noun}-reasons` }, ...REASONS.map((words) => el("option", { value: words }))));
  const conflict = createConflict(`${noun}-conflict-title`);
  const element = el("form", {
    class: "entry-form", novalidate: true, "aria-labelledby": title.id,
    onsubmit: (/** @type {SubmitEvent} */ event) => {
      event.preventDefault();
      if (!isWorking(submit)) onSend(false);
    },
  },
  title, note,
  el("div", { class: "fields" }, ...fields, reasonField, createWriterField(`${noun}-writer`)),
  conflict.element,
  el("div", { class: "form-actions" }, submit, withdraw, cancel, status.element));

  return {
    element,
    note,
    say: status.say,

    /** Back to adding. */
    add() {
      title.textContent = adding;
      submit.textContent = `Save ${noun}`;
      if ([cancel, withdraw, reason].some((going) => going === document.activeElement)) submit.focus({ preventScroll: true });
      cancel.hidden = true;
      withdraw.hidden = true;
      reasonField.hidden = true;
      reason.value = "";
      conflict.hide();
    },

    /** @param {boolean} withdrawn whether the record was taken back and may now be restored */
    correct(withdrawn) {
      title.textContent = withdrawn ? `Restore ${noun === "event" ? "an event" : "a reading"} that was taken back` : `Correct ${noun === "event" ? "an" : "a"} ${noun}`;
      submit.textContent = withdrawn ? "Restore it" : "Save correction";
      cancel.hidden = false;
      withdraw.hidden = withdrawn;
      reasonField.hidden = false;
      reason.value = "";
      conflict.hide();
      status.say("", "soft");
      reveal(element);
      element.scrollIntoView({ block: "center" });
    },

    /** @returns {string | null} null, and said, when a change has no reason */
    readReason() {
      if (reasonField.hidden) return "";
      const words = reason.value.trim();
      if (words) return words;
      status.say("Please say in a few words why it is changed: the reason stays in the history.", "alarm");
      point(reason);
      return null;
    },

    /**
     * Save a new record and have everything fetched anew; what was typed stays when it fails.
     * @param {Model} model
     * @param {{ corrects: string | null }} content the record without what {@link recordMaker} adds
     * @param {() => string} stored called once the server holds it; what to tell the user
     * @param {() => Promise<void>} onSaved
     * @returns {Promise<boolean>} whether it was saved
     */
    async send(model, content, stored, onSaved) {
      status.say("Saving\u2026", "soft");
      try {
        await working(submit, () => save(model.id, { [`${noun}s`]: [make(content)] }));
      } catch (error) {
        const clash = error instanceof SaveConflict ? error.conflicts[0] : undefined;
        if (clash) {
          status.say("Not saved: somebody else has changed it meanwhile. What you typed is still here.", "alarm");
          conflict.show({
            title: `This ${noun} was changed while you had it open`,
            heldBy: clash.held.by ?? clash.held.device,
            lines: differences(clash.yours, clash.held, model.clock),
            onMine: () => {
              conflict.hide();
              void this.send(model, { ...content, corrects: clash.held.id }, stored, onSaved);
            },
            onHeld: () => {
              onCancel();
              status.say("The saved version is kept.", "good");
              void onSaved();
            },
          });
          return false;
        }
        status.say(`Not saved: ${error instanceof Error ? error.message : error} What you typed is still here.`, "alarm");
        return false;
      }
      const said = stored();
      status.say(`${said} Working the figures out again\u2026`, "soft");
      await onSaved();
      status.say(`${said} The figures follow.`, "good");
      return true;
    },
  };
}

const SAID = ["kind", "quantity", "value", "unit", "text", "class", "done_by", "resolution", "rounding", "about", "photo"];

/**
 * @param {object} before the record that is corrected
 * @param {object} content what would take its place, at the same moment
 * @returns {boolean} whether both say the same
 */
export function saysTheSame(before, content) {
  const [old, next] = [before, content].map((one) => new Map(Object.entries({ rounding: "nearest", ...filled(one) })));
  return SAID.every((key) => old?.get(key) === next?.get(key));
}

/** @param {object} record */
function filled(record) {
  return Object.fromEntries(Object.entries(record).filter(([, value]) => value !== null && value !== undefined));
}

export const NOTHING_NEW = "Nothing is different yet: change what is wrong, or take it back.";

/** What a withdrawal says, of either. */
export const WITHDRAWN = "Taken back; the original is kept.";

/**
 * @param {Model} model
 * @returns {number} a moment of the session; now, when nothing of it has happened yet
 */
export function startOf(model) {
  const recorded = model.result.zero.t_ms ?? model.curves.t_ms[0] ?? model.events[0]?.atMs ?? model.readings[0]?.atMs;
  const startMs = Date.parse(model.session.setup.session?.started_at ?? "");
  return recorded ?? (Number.isNaN(startMs) ? Date.now() : startMs);
}
