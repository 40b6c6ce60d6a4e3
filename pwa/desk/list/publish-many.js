// @ts-check
/** Publishing several sessions at once: one ZIP, a folder each, and a record of it. */
import { el } from "../page/dom.js";
import { createFormStatus } from "../page/form-status.js";
import { saveFrom } from "../page/save-file.js";

const MOST = 200; // the server takes no more at once

/**
 * @param {() => Promise<void>} onDone
 */
export function createPublishMany(onDone) {
  /** @type {string[]} */
  let ids = [];
  let units = "km";
  const about = el("p", { class: "form-note" });
  const record = el("input", { id: "many-record", type: "checkbox", checked: true });
  const note = el("input", { id: "many-note", type: "text", size: 40, autocomplete: "off" });
  const status = createFormStatus();
  const make = el("button", { type: "submit", class: "primary" }, "Make the ZIP");
  const element = el("dialog", { class: "card small-dialog", "aria-labelledby": "many-title" },
    el("form", {
      novalidate: true, onsubmit: (/** @type {Event} */ event) => {
        event.preventDefault();
        void send();
      },
    },
    el("h2", { id: "many-title" }, "Publish the sessions picked"), about,
    el("label", { class: "check-line", for: record.id }, record, "Record them as published: their figures are frozen as they are now"),
    el("div", { class: "field" }, el("label", { for: note.id }, "Where they appear"), note),
    el("div", { class: "form-actions" }, make, el("button", { type: "button", class: "quiet", onclick: () => element.close() }, "Close"), status.element)));

  async function send() {
    make.disabled = true;
    status.say("Drawing and setting every piece; this takes some seconds for each session\u2026", "soft");
    try {
      await saveFrom("/api/sessions/publish", { session_ids: ids, units, record: record.checked, note: note.value.trim() || null });
      status.say("Saved as one ZIP, a folder for each session.", "good");
      await onDone();
    } catch (error) {
      status.say(`Not saved: ${error instanceof Error ? error.message : error}`, "alarm");
    } finally {
      make.disabled = ids.length > MOST;
    }
  }

  return {
    element,
    /** @param {string[]} chosen @param {import("../../shared/units.js").Units} shown */
    open(chosen, shown) {
      ids = chosen;
      units = shown.distance;
      about.textContent = `${ids.length === 1 ? "1 session" : `${ids.length} sessions`}: report, pictures, film tracks and data of each.`;
      make.disabled = ids.length > MOST;
      status.say(ids.length > MOST ? `At most ${MOST} at once: pick fewer.` : "", "alarm");
      element.showModal();
    },
  };
}
