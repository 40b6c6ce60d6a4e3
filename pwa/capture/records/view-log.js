// @ts-check
/** What was recorded, newest first; a word can be added or a slip taken back, at any time. What was
    taken back stays, struck through. */
import { h, onTap } from "../page/dom.js";
import { showSheet } from "../page/sheet.js";
import { isLog, takenBack } from "./evidence.js";
import { recordName, timeOfDay } from "./words.js";

/** @typedef {import("../storage/rows").RecordRow} RecordRow */

/** @type {Record<RecordRow["state"], string>} */
const STATE_WORDS = {
  draft: "on this phone", unsent: "on this phone", held: "on the server", refused: "refused",
};

/** @param {import("./types").LogParts} parts */
export async function openLog({ recorder, stored, pictures, confirm, withdrawn, fail }) {
  const states = new Map((await stored()).map((row) => [row.id, row]));
  const gone = takenBack(recorder.rows());
  const entries = [
    ...(await pictures()).map((one) => ({ at_ms: one.t_ms, item: own(words("Photo", one.t_ms, one)) })),
    ...gone.map((row) => ({ at_ms: row.stored_ms, item: own(words(h("s", {}, recordName(row)), row.doc.t_ms, row, "undone")) })),
    ...recorder.standing().map((row) => ({ at_ms: row.stored_ms, item: standingItem(row) })),
  ].sort((a, b) => b.at_ms - a.at_ms);
  const list = h("ol", { class: "log" }, ...entries.map(({ item }) => item));
  showSheet("Log", entries.length ? [list] : [h("p", { class: "kept" }, "Nothing recorded yet.")], { name: "log-sheet" });

  /**
   * @param {Node | string} name @param {number} t_ms
   * @param {{ state: RecordRow["state"], problem?: string }} now @param {string} [told] of its state
   */
  function words(name, t_ms, { state, problem }, told = STATE_WORDS[state]) {
    return [
      h("time", {}, timeOfDay(t_ms)),
      h("span", { class: "log-what" }, name, problem ? h("em", {}, ` ${problem}`) : null),
      h("small", { "data-state": state }, told),
    ];
  }

  /** @param {HTMLElement[]} content */
  function own(content) {
    return h("li", { class: "log-own" }, ...content);
  }

  /** @param {RecordRow} row */
  function standingItem(row) {
    const content = words(recordName(row), row.doc.t_ms, states.get(row.id) ?? row);
    if (isLog(row)) return own(content);
    const button = h("button", { "data-record-id": row.id }, ...content);
    onTap(button, () => openOne(row));
    return h("li", {}, button);
  }

  /** @param {RecordRow} row */
  function openOne(row) {
    const text = h("textarea", { id: "detail-text", rows: 3, maxlength: 500, autocomplete: "off" });
    text.value = row.doc.text ?? "";
    const save = h("button", { class: "key store" }, h("span", {}, "Store the words"));
    const withdraw = h("button", { class: "key", "data-tone": "off" },
      h("span", {}, "Undo"), h("small", {}, "both stay in the record"));
    /** @param {Promise<RecordRow>} work @param {(made: RecordRow) => void} then */
    const finish = async (work, then) => {
      try {
        const made = await work;
        sheet.close();
        then(made);
      } catch (error) {
        fail(error);
      }
    };
    onTap(save, () => void finish(recorder.correct(row, { text: text.value.trim() || null }), confirm));
    onTap(withdraw, () => void finish(recorder.withdraw(row), () => withdrawn(row)));
    const sheet = showSheet(recordName(row), row.type === "reading" ? [
      h("p", { class: "kept" }, "Typed wrong? Undo it and enter it again."), withdraw,
    ] : [
      h("label", { class: "field", for: "detail-text" }, h("span", {}, "In words"), text), save, withdraw,
    ], { name: "one" });
  }
}
