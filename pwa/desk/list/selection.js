// @ts-check
/** The sessions picked in the list, over all its pages, and what can be done with them together. */
import { formatNumber } from "../../shared/units.js";
import { el } from "../page/dom.js";

/** @typedef {import("../session/documents").SessionRow} SessionRow */

/**
 * @param {{ onTable: () => void, onPublish: () => void, onCampaign: () => void, onCompare: () => void, onChange: () => void }} actions
 */
export function createSelection({ onTable, onPublish, onCampaign, onCompare, onChange }) {
  /** @type {Set<string>} */
  const picked = new Set();
  const words = el("p", { role: "status" });
  const table = el("button", { type: "button", class: "quiet", onclick: onTable });
  const publish = el("button", { type: "button", class: "quiet", onclick: onPublish }, "Publish\u2026");
  const campaign = el("button", { type: "button", class: "quiet", onclick: onCampaign }, "Save as campaign\u2026");
  const compare = el("button", { type: "button", class: "quiet", onclick: onCompare }, "Compare these two");
  const none = el("button", { type: "button", class: "quiet", onclick: clear }, "Pick none");
  const element = el("div", { class: "picked", role: "group", "aria-label": "With the sessions picked" }, words, table, compare, publish, campaign, none);
  let found = 0;

  function show() {
    const any = picked.size > 0;
    words.textContent = any ? `${formatNumber(picked.size, 0)} picked` : "None picked";
    table.textContent = any ? "CSV of those picked" : found === 1 ? "CSV of this one" : `CSV of all ${formatNumber(found, 0)}`;
    table.disabled = found === 0 && !any;
    for (const button of [publish, campaign, none]) button.hidden = !any;
    compare.hidden = picked.size !== 2;
  }

  function clear() {
    picked.clear();
    show();
    onChange();
  }

  /** @param {string} id @param {boolean} on */
  function pick(id, on) {
    if (on) picked.add(id);
    else picked.delete(id);
  }

  show();
  return {
    element, clear,
    ids: () => [...picked],
    /** @param {number} total found in all */
    offer(total) {
      found = total;
      show();
    },
    /** @param {SessionRow} row @param {string} name */
    box(row, name) {
      const box = el("input", {
        type: "checkbox", checked: picked.has(row.id), "aria-label": `Pick ${name}`,
        onchange: () => {
          pick(row.id, box.checked);
          show();
          onChange();
        },
      });
      return el("label", { class: "pick" }, box);
    },
    /** One box for all rows of a page. @param {SessionRow[]} rows */
    boxOfAll(rows) {
      const count = rows.filter((row) => picked.has(row.id)).length;
      const box = el("input", {
        type: "checkbox", checked: rows.length > 0 && count === rows.length, "aria-label": "Pick all on this page",
        onchange: () => {
          for (const row of rows) pick(row.id, box.checked);
          show();
          onChange();
        },
      });
      box.indeterminate = count > 0 && count < rows.length;
      return el("label", { class: "pick" }, box);
    },
  };
}
