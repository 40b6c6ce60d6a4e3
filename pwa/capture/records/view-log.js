// @ts-check
/** What was recorded, by this phone and the others, newest first; to its own a word can be added and
    a slip taken back, at any time. What was taken back stays, struck through. */
import { choicesOf, chosenOf, EVENTS } from "../../shared/vocabulary.js";
import { classOf } from "../../shared/warnings.js";
import { h, onTap } from "../page/dom.js";
import { showSheet } from "../page/sheet.js";
import { isLog, standing, takenBack } from "./evidence.js";
import { keptName, recordName, timeOfDay } from "./words.js";

/** @typedef {import("../storage/rows").RecordRow} RecordRow */

/** @type {Record<RecordRow["state"], string>} */
const STATE_WORDS = {
  draft: "stored here", unsent: "stored here", held: "stored, sent", refused: "refused",
};

const MOST_CHIPS = 4;

/** @param {RecordRow} row */
const isTick = (row) => row.doc.log === "checklist";

/** @param {import("./types").LogParts} parts */
export async function openLog({ recorder, beside, who, stored, pictures, warnings, remember, confirm, withdrawn, fail }) {
  const states = new Map((await stored()).map((row) => [row.id, row]));
  const all = beside(recorder.rows());
  const [stand, gone] = [standing(all), takenBack(all)];
  const entries = [
    ...(await pictures()).map((one) => ({ at_ms: one.t_ms, item: own(words(keptName(one), one.t_ms, one)) })),
    ...gone.map((row) => ({ at_ms: row.doc.t_ms, item: own(words(h("s", {}, recordName(row)), row.doc.t_ms, row, "undone")) })),
    ...stand.filter((row) => !isTick(row)).map((row) => ({ at_ms: row.doc.t_ms, item: standingItem(row) })),
    ...ticksItem(stand.filter(isTick)),
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
    const by = who(row);
    const content = words(recordName(row), row.doc.t_ms, states.get(row.id) ?? row, by || undefined);
    if (by || isLog(row)) return own(content); // another's is changed on that phone, or at the desk
    const button = h("button", { "data-record-id": row.id }, ...content);
    onTap(button, () => openOne(row));
    return h("li", {}, button);
  }

  /** The checklist's ticks on one line, which unfolds. @param {RecordRow[]} ticks */
  function ticksItem(ticks) {
    const last = ticks.at(-1);
    if (!last) return [];
    const lines = ticks.toReversed().map((row) => own(words(recordName(row), row.doc.t_ms, states.get(row.id) ?? row)));
    const held = ticks.every((row) => (states.get(row.id) ?? row).state === "held");
    return [{ at_ms: last.doc.t_ms, item: h("li", {}, h("details", { class: "folded" },
      h("summary", { class: "log-own" }, ...words(`Checklist: ${ticks.length} ${ticks.length === 1 ? "entry" : "entries"}`, last.doc.t_ms, { state: held ? "held" : last.state })),
      h("ol", {}, ...lines))) }];
  }

  /** @param {RecordRow} row */
  function openOne(row) {
    const text = h("textarea", { id: "detail-text", rows: 3, maxlength: 500, autocomplete: "off" });
    text.value = row.doc.text ?? "";
    const inWords = h("label", { class: "field", for: text.id }, h("span", {}, "In words"), text);
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
    const chosen = EVENTS[row.doc.kind]?.choices ? choiceField(row, text, inWords) : null;
    onTap(save, () => {
      const said = { text: text.value.trim() || null, ...chosen?.value() };
      void finish(recorder.correct(row, said), (made) => {
        confirm(made);
        if (said.text && said.class) void remember({ text: said.text, class: said.class });
      });
    });
    onTap(withdraw, () => void finish(recorder.withdraw(row), () => withdrawn(row)));
    const sheet = showSheet(recordName(row), row.type === "reading" ? [
      h("p", { class: "kept" }, "Typed wrong? Undo it and enter it again."), withdraw,
    ] : [
      inWords, ...chosen?.parts ?? [], save, withdraw,
    ], { name: "one" });
  }

  /**
   * What of its kind it was. The class of a warning is proposed by what the same words were before,
   * and the other way round what was said before in the class that was tapped.
   * @param {RecordRow} row @param {HTMLTextAreaElement} text @param {HTMLElement} inWords its field
   */
  function choiceField({ doc }, text, inWords) {
    const { key, label = "" } = EVENTS[doc.kind]?.choices ?? {};
    const choices = choicesOf(doc.kind);
    const nothing = Object.fromEntries(choices.flatMap(({ detail }) => Object.keys(detail))
      .flatMap((name) => (name === "text" ? [] : [[name, null]])));
    const select = h("select", { id: "detail-choice" }, h("option", { value: "" }, "not stated"),
      ...choices.map(({ name, words }) => h("option", { value: name }, words)));
    select.value = chosenOf(/** @type {import("../../shared/vocabulary.js").Said} */ (doc));
    let isOwn = select.value !== "";
    /** A choice that is kept as the text takes its place. */
    const fit = () => {
      inWords.hidden = key === "text" && select.value !== "";
    };
    if (key === "text" && isOwn) text.value = "";
    fit();
    select.addEventListener("change", () => {
      isOwn = true;
      fit();
    });
    const propose = () => {
      if (!isOwn && key === "class") select.value = classOf(warnings, text.value);
    };
    text.addEventListener("input", propose);
    propose();
    const before = (key === "class" ? warnings : []).filter((one) => !doc.class || one.class === doc.class).slice(0, MOST_CHIPS).map((one) => {
      const chip = h("button", { class: "chip" }, one.text);
      onTap(chip, () => {
        text.value = one.text;
        propose();
      });
      return chip;
    });
    return {
      /** @returns {import("./types").Detail} */
      value: () => ({ ...nothing, ...choices.find(({ name }) => name === select.value)?.detail }),
      parts: [
        ...(before.length ? [h("div", { class: "known", role: "group", "aria-label": "Same words as before" },
          h("span", {}, "Same words as before:"), ...before)] : []),
        h("label", { class: "field", for: select.id }, h("span", {}, label), select)],
    };
  }
}
