// @ts-check
/** All readings as they were typed, with what they replaced. */
import { readingName } from "../../shared/vocabulary.js";
import { el } from "../page/dom.js";
import { keepingFocus } from "../page/keep-focus.js";
import { oneStop } from "../page/rows.js";
import { readingMeaning, readingValue } from "../words/wording.js";

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {import("../session/model.js").ReadingRow} ReadingRow */

/**
 * @param {import("../session/cursor.js").Cursor} cursor
 * @param {{ onCorrect: (row: ReadingRow) => void }} options
 */
export function createReadingTable(cursor, { onCorrect }) {
  const body = el("tbody");
  const table = oneStop(el("table", { class: "figures readings" },
    el("caption", { class: "visually-hidden" }, "Readings of the display, in order"),
    el("thead", {}, el("tr", {}, ...["Clock", "What", "Shown", "Means", "From"].map((head) => el("th", { scope: "col", class: head === "Shown" ? null : "words" }, head)),
      el("th", { scope: "col" }, el("span", { class: "visually-hidden" }, "Change")))), body));
  const empty = el("p", { class: "empty" }, "No readings yet. Each one narrows the energy band on the chart: type the first below.");
  const element = el("div", {}, el("div", { class: "table-scroll readings-scroll" }, table), empty);

  /** @param {Model} model */
  function update(model) {
    empty.hidden = model.readings.length > 0;
    table.hidden = model.readings.length === 0;
    keepingFocus(body, () => body.replaceChildren(...model.readings.flatMap((row) => {
      const { record, earlier, withdrawn, atMs } = row;
      const shown = withdrawn ? (earlier[0] ?? record) : record;
      const name = readingName(shown.quantity);
      const time = model.clock.time(atMs);
      const old = withdrawn ? earlier.slice(1) : earlier;
      return [
        el("tr", { class: `ladder-row${withdrawn ? " is-withdrawn" : ""}`, "data-reading-id": shown.id, onclick: () => cursor.hold(atMs) },
          el("th", { scope: "row" }, el("button", { type: "button", class: "row-button", "aria-label": `Move the cursor to ${name} at ${time}` }, time)),
          el("td", { class: "words" }, name),
          el("td", {}, withdrawn ? el("s", {}, readingValue(shown)) : readingValue(shown)),
          el("td", { class: "words soft" }, withdrawn ? "taken back; original kept" : readingMeaning(shown)),
          el("td", { class: "words soft" }, shown.device),
          el("td", { class: "row-actions" }, el("button", {
            type: "button", class: "quiet small", "aria-label": `${withdrawn ? "Restore" : "Correct"} ${name} at ${time}`,
            onclick: (/** @type {MouseEvent} */ event) => {
              event.stopPropagation();
              cursor.hold(atMs);
              onCorrect(row);
            },
          }, withdrawn ? "Restore" : "Correct"))),
        ...old.map((version) => el("tr", { class: "earlier-row", "data-reading-id": version.id },
          el("th", { scope: "row" }, el("span", { class: "visually-hidden" }, "Earlier: "), el("s", {}, model.clock.time(version.t_ms))),
          el("td", { class: "words" }, "replaced"),
          el("td", {}, el("s", {}, readingValue(version))),
          el("td", { class: "words" }, readingMeaning(version)),
          el("td", { class: "words", colspan: 2 }, version.device))),
      ];
    })));
  }
  return { element, update };
}
