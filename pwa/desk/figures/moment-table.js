// @ts-check
/** A table whose rows begin with a moment that the cursor can be moved to. */
import { el } from "../page/dom.js";
import { oneStop } from "../page/rows.js";

/**
 * @typedef {object} MomentRow
 * @property {number} atMs
 * @property {string} head
 * @property {string} label what a screen reader calls the way there
 * @property {(Node | string)[]} cells
 * @property {string} [detail] under the head
 */

/**
 * @param {import("../session/cursor.js").Cursor} cursor
 * @param {string} caption
 * @param {[string, string][]} columns name and unit
 * @param {MomentRow[]} rows
 * @returns {HTMLElement}
 */
export function momentTable(cursor, caption, columns, rows) {
  return el("div", { class: "table-scroll" }, oneStop(el("table", { class: "figures moments" },
    el("caption", { class: "visually-hidden" }, caption),
    el("thead", {}, el("tr", {}, ...columns.map(([name, unit]) =>
      el("th", { scope: "col" }, name, unit && el("span", { class: "column-unit" }, unit))))),
    el("tbody", {}, ...rows.map(({ atMs, head, label, cells, detail }) => el("tr", { class: "ladder-row", onclick: () => cursor.hold(atMs) },
      el("th", { scope: "row" }, el("button", { type: "button", class: "row-button", "aria-label": `Move the cursor to ${label}` }, head),
        detail && el("span", { class: "row-detail" }, detail)),
      ...cells.map((cell) => el("td", {}, cell))))))));
}
