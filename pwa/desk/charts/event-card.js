// @ts-check
/** An event opened from its flag: its figures, how they were reached, and what can be done with it. */
import { eventDetail, eventExplained } from "../../shared/vocabulary.js";
import { howDistance, howEnergy, howMoment } from "../how/reached.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {import("../session/model.js").EventRow} EventRow */

/**
 * @param {object} options
 * @param {(row: EventRow) => void} options.onCorrect
 * @param {(atMs: number) => void} options.onNote
 */
export function createEventCard({ onCorrect, onNote }) {
  /** @type {HTMLElement | null} */
  let back = null;
  const element = el("div", {
    class: "card event-card", role: "dialog", "aria-labelledby": "event-card-title", tabindex: -1, hidden: true,
    onkeydown: (/** @type {KeyboardEvent} */ event) => {
      if (event.key !== "Escape") return;
      event.stopPropagation();
      close();
    },
  });

  function close() {
    element.hidden = true;
    back?.focus();
  }

  return {
    element,
    close() {
      element.hidden = true;
    },
    /** @param {EventRow} row @param {Model} model @param {import("../../shared/units.js").Units} units */
    show(row, model, units) {
      const { record, entry, atMs } = row;
      if (element.hidden) back = document.activeElement instanceof HTMLElement ? document.activeElement : null;
      const detail = eventDetail(record);
      /** @type {[string, Node | string | null | undefined][]} */
      const lines = [
        ["Moment", model.clock.time(atMs, 1)],
        ["Past zero", entry?.past_zero_m && figure("distance", entry.past_zero_m, units)],
        ["Energy past zero", entry?.energy_past_zero_kwh && figure("energy", entry.energy_past_zero_kwh, units)],
        ["Left until it stopped", entry?.left_m && figure("distance", entry.left_m, units)],
        ["Speed", entry?.speed_mps && figure("speed", entry.speed_mps, units)],
      ];
      element.replaceChildren(
        el("div", { class: "event-card-head" }, el("h3", { id: "event-card-title" }, eventExplained(record.kind)),
          el("button", { type: "button", class: "quiet small", "aria-label": "Close the event", onclick: close }, "\u00d7")),
        detail && el("p", {}, detail),
        el("dl", { class: "pairs" }, ...lines.filter(([, value]) => value).flatMap(([name, value]) => [el("dt", {}, name), el("dd", {}, value)])),
        el("details", { class: "behind" }, el("summary", {}, "How these were reached"),
          el("ul", {}, ...[...howMoment(row, model), ...howDistance(atMs, model, units), ...howEnergy(atMs, model)].map((words) => el("li", {}, words)))),
        el("div", { class: "button-row" },
          el("button", { type: "button", class: "quiet", onclick: () => act(() => onCorrect(row)) }, "Correct"),
          el("button", { type: "button", class: "quiet", onclick: () => act(() => onNote(atMs)) }, "Add a note here")));
      element.hidden = false;
      element.focus({ preventScroll: true });
      element.scrollIntoView({ block: "nearest" });
    },
  };

  /** @param {() => void} then */
  function act(then) {
    element.hidden = true;
    then();
  }
}
