// @ts-check
/** What a tap asks for once its moment is kept: one of its choices, or the value that was shown. */
import { EVENTS } from "../../shared/vocabulary.js";
import { h, onPress, say } from "../page/dom.js";
import { showSheet } from "../page/sheet.js";
import { recordName, timeOfDay } from "../records/words.js";

/** @typedef {import("../records/types").Detail} Detail */
/** @typedef {import("./types").Question} Question */

/**
 * Closing a sheet comes after choosing on it, and is no answer then.
 * @param {(detail?: Detail) => void} finish
 * @returns {(detail?: Detail) => void}
 */
function once(finish) {
  let answered = false;
  return (detail) => {
    if (answered) return;
    answered = true;
    finish(detail);
  };
}

/** @param {Question} question */
export function askChoice({ at, signal, finish, kind }) {
  const answer = once(finish);
  const { choices, key } = known(kind);
  const tiles = Object.entries(choices?.words ?? {}).map(([word, words]) => {
    const tile = h("button", { class: "key", "data-tone": key.tone, "data-choice": word },
      h("span", {}, words.charAt(0).toUpperCase() + words.slice(1)));
    onPress(tile, () => {
      signal("taken");
      answer({ [choices?.key ?? "text"]: word });
      sheet.close();
    });
    return tile;
  });
  const sheet = showSheet(key.ask?.question ?? "", [
    h("p", { class: "kept" }, `Moment kept: ${timeOfDay(at.t_ms)}. Exact words can follow in the log.`),
    h("div", { class: "tiles" }, ...tiles),
  ], { onClose: () => answer(), name: "choices" });
}

/**
 * A zero was tapped before, and it counts until somebody says otherwise: closed without an answer
 * both taps stay, and the first counts.
 * @param {import("./types").ZeroQuestion} question
 */
export function askZeroAgain({ at, first, signal, finish }) {
  const answer = once(finish);
  const [was, now] = [timeOfDay(first.doc.t_ms), timeOfDay(at.t_ms)];
  const name = recordName(first);
  /** @param {string} label @param {string} hint @param {Detail} detail */
  const way = (label, hint, detail) => {
    const tile = h("button", { class: "key", "data-tone": "zero" }, h("span", {}, label), h("small", {}, hint));
    onPress(tile, () => {
      signal("taken");
      answer(detail);
      sheet.close();
    });
    return tile;
  };
  const sheet = showSheet(`${name} at ${was} already`, [
    h("p", { class: "kept" }, `Moment kept: ${now}. Which one counts?`),
    h("div", { class: "tiles" },
      way(`Keep ${was}`, "this tap stays as a note", {
        kind: "note", value: null, unit: null, text: `${name} tapped again; ${was} counts`,
      }),
      way(`Take ${now}`, "instead of the first", { corrects: first.id })),
  ], { onClose: () => answer(), name: "zero-again" });
}

/** @param {import("./types").ValueQuestion} question */
export function askValue({ at, signal, finish, kind, unit, start, remember }) {
  const answer = once(finish);
  const { question = "", steps = [], most = Infinity } = known(kind).key.ask ?? {};
  let value = start;
  const shown = h("output", { class: "stepper-value", "aria-live": "polite" });
  const show = () => say(shown, `${value}\u00a0${unit}`);
  show();
  /** @param {number} by */
  const stepper = (by) => {
    const label = `${by < 0 ? "Less" : "More"} by ${Math.abs(by)}`;
    const button = h("button", { class: "key step", "aria-label": label },
      h("span", {}, by < 0 ? `−${-by}` : `+${by}`));
    onPress(button, () => {
      value = Math.max(0, Math.min(most, value + by));
      signal("taken");
      show();
    });
    return button;
  };
  const store = h("button", { class: "key store" }, h("span", {}, "Store"));
  onPress(store, () => {
    signal("taken");
    remember(value);
    answer({ value, unit });
    sheet.close();
  });
  const sheet = showSheet(question, [
    h("p", { class: "kept" }, `Moment kept: ${timeOfDay(at.t_ms)}.`),
    shown, h("div", { class: "steps" }, ...steps.flatMap((step) => [-step, step]).map(stepper)), store,
  ], { onClose: () => answer(), name: "stepper" });
}

/** @param {string} kind */
const known = (kind) => /** @type {import("../../shared/vocabulary.js").EventKind} */ (EVENTS[kind]);
