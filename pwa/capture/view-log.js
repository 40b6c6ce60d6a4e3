// @ts-check
/** What was recorded, newest first; a word can be added or a slip taken back, at any time. */
import { h, onTap } from "./dom.js";
import { isLog } from "./evidence.js";
import { showSheet } from "./sheet.js";
import { recordName, timeOfDay } from "./words.js";

/** @typedef {import("./store.js").RecordRow} RecordRow */

/** @type {Record<RecordRow["state"], string>} */
const STATE_WORDS = {
  draft: "on this phone", unsent: "on this phone", held: "on the server", refused: "refused",
};

/** @param {import("./views").LogParts} parts */
export async function openLog({ recorder, stored, confirm, fail }) {
  const states = new Map((await stored()).map((row) => [row.id, row]));
  const rows = recorder.standing().reverse();
  const list = h("ol", { class: "log" }, ...rows.map((row) => item(row, states.get(row.id) ?? row)));
  showSheet("Log", rows.length ? [list] : [h("p", { class: "kept" }, "Nothing recorded yet.")], { name: "log-sheet" });

  /** @param {RecordRow} row @param {RecordRow} now */
  function item(row, now) {
    const words = [
      h("time", {}, timeOfDay(row.doc.t_ms)),
      h("span", { class: "log-what" }, recordName(row),
        now.problem ? h("em", {}, ` ${now.problem}`) : null),
      h("small", { "data-state": now.state }, STATE_WORDS[now.state]),
    ];
    if (isLog(row)) return h("li", { class: "log-own" }, ...words);
    const button = h("button", { type: "button", "data-record-id": row.id }, ...words);
    onTap(button, () => openOne(row));
    return h("li", {}, button);
  }

  /** @param {RecordRow} row */
  function openOne(row) {
    const text = h("textarea", { id: "detail-text", rows: 3, maxlength: 500, autocomplete: "off" });
    text.value = row.doc.text ?? "";
    const save = h("button", { type: "button", class: "key store" }, h("span", {}, "Store the words"));
    const withdraw = h("button", { type: "button", class: "key", "data-tone": "off" },
      h("span", {}, "Take it back"), h("small", {}, "both stay in the record"));
    /** @param {Promise<RecordRow>} work */
    const finish = async (work) => {
      try {
        confirm(await work);
        sheet.close();
      } catch (error) {
        fail(error);
      }
    };
    onTap(save, () => void finish(recorder.correct(row, { text: text.value.trim() || null })));
    onTap(withdraw, () => void finish(recorder.withdraw(row)));
    const sheet = showSheet(recordName(row), row.type === "reading" ? [
      h("p", { class: "kept" }, "Typed wrong? Take it back and note it again."), withdraw,
    ] : [
      h("label", { class: "field", for: "detail-text" }, h("span", {}, "In words"), text), save, withdraw,
    ], { name: "one" });
  }
}
