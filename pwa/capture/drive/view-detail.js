// @ts-check
/** What a tap asks for once its moment is kept: what a warning said, which value was shown. */
import { h, onPress, say } from "../page/dom.js";
import { showSheet } from "../page/sheet.js";
import { recordName, timeOfDay } from "../records/words.js";
import { WARNINGS } from "./taps.js";

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
export function askWarning({ at, signal, finish }) {
  const answer = once(finish);
  const tiles = WARNINGS.map((text) => {
    const tile = h("button", { class: "key", "data-tone": "warn" }, h("span", {}, text));
    onPress(tile, () => {
      signal("taken");
      answer({ text });
      sheet.close();
    });
    return tile;
  });
  const sheet = showSheet("What did it say?", [
    h("p", { class: "kept" }, `Moment kept: ${timeOfDay(at.t_ms)}. Exact words can follow in the log.`),
    h("div", { class: "tiles" }, ...tiles),
  ], { onClose: () => answer(), name: "warnings" });
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
export function askValue({ at, signal, finish, detail, unit, start, remember }) {
  const answer = once(finish);
  let value = start;
  const most = detail === "percent" ? 100 : 400;
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
  const steps = detail === "percent" ? [-1, 1, -5, 5] : [-5, 5, -1, 1];
  const store = h("button", { class: "key store" }, h("span", {}, "Store"));
  onPress(store, () => {
    signal("taken");
    remember(value);
    answer({ value, unit });
    sheet.close();
  });
  const sheet = showSheet(detail === "percent" ? "Which % does it show?" : "No faster than…", [
    h("p", { class: "kept" }, `Moment kept: ${timeOfDay(at.t_ms)}.`),
    shown, h("div", { class: "steps" }, ...steps.map(stepper)), store,
  ], { onClose: () => answer(), name: "stepper" });
}
