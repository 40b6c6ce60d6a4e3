// @ts-check
/** What a tap asks for once its moment is kept: one of its choices, or the value that was shown. */
import { choicesOf, EVENTS } from "../../shared/vocabulary.js";
import { h, onPress, say } from "../page/dom.js";
import { glyph, PHOTO } from "../page/glyphs.js";
import { showSheet } from "../page/sheet.js";
import { recordName, timeOfDay } from "../records/words.js";

/** @typedef {import("../records/types").Detail} Detail */

const MOST_BEFORE = 2;
/** Closing is no cancel: the tap was kept before the question. */
const LATER = "Later";

/** @param {import("../phone/types").Stamp} at @param {string} more */
const keptWords = ({ t_ms }, more = "") => [
  h("p", { class: "kept firm" }, h("b", {}, `Moment kept: ${timeOfDay(t_ms)}. `), `${LATER} keeps the tap without an answer; Undo then takes it back. ${more}`.trim()),
];

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

/** The same words as before come first, and a photo may say it instead. @param {import("./types").ChoiceQuestion} question */
export function askChoice({ at, signal, finish, kind, saidBefore, takePhoto }) {
  const answer = once(finish);
  const { key } = known(kind);
  /** @param {Record<string, string>} marks @param {Node[]} content @param {Detail} [detail] @param {() => void} [then] */
  const way = (marks, content, detail, then) => {
    const tile = h("button", { class: "key", "data-tone": key.tone, ...marks }, ...content);
    onPress(tile, () => {
      signal("taken");
      answer(detail);
      sheet.close();
      then?.();
    });
    return tile;
  };
  const before = saidBefore.slice(0, MOST_BEFORE).map((said) =>
    way({ "data-said": said.text, "aria-label": `Same words as before: ${said.text}` },
      [h("span", { class: "words" }, `“${said.text}”`), h("small", {}, "same as before")], said));
  const tiles = choicesOf(kind).filter(({ isOpen }) => !isOpen).map(({ name, detail, words }) =>
    way({ "data-choice": name }, [h("span", {}, words.charAt(0).toUpperCase() + words.slice(1))], detail));
  const photo = takePhoto && way({ "data-choice": "photo" }, [glyph(PHOTO), h("span", {}, "Photo of it")], undefined, takePhoto);
  const sheet = showSheet(key.ask?.question ?? "", [
    ...keptWords(at, "Exact words can follow in the log."),
    h("div", { class: "tiles" }, ...before, ...tiles, ...(photo ? [photo] : [])),
  ], { onClose: () => answer(), name: "choices", leave: LATER });
}

/**
 * A zero was tapped before, and it counts until somebody says otherwise: closed without an answer
 * both taps stay, and the first counts. What another phone tapped is not this one's to replace.
 * @param {import("./types").ZeroQuestion} question
 */
export function askZeroAgain({ at, first, by, signal, finish }) {
  const answer = once(finish);
  const [was, now] = [timeOfDay(first.doc.t_ms), timeOfDay(at.t_ms)];
  const name = recordName(first);
  /** @param {string} label @param {string} hint @param {Detail} [detail] */
  const way = (label, hint, detail) => {
    const tile = h("button", { class: "key", "data-tone": "zero" }, h("span", {}, label), h("small", {}, hint));
    onPress(tile, () => {
      signal("taken");
      answer(detail);
      sheet.close();
    });
    return tile;
  };
  const sheet = showSheet(`${name} at ${was} already${by && `, by ${by}`}`, [
    ...keptWords(at, `Which one counts? Until somebody says, that of ${was}.`),
    h("div", { class: "tiles" },
      way(`Keep ${was}`, "this tap stays as a note", {
        kind: "note", value: null, unit: null, text: `${name} tapped again; ${was} counts`,
      }),
      by ? way("Keep both", "the earlier one counts until the desk says otherwise")
        : way(`Take ${now}`, "instead of the first", { corrects: first.id })),
  ], { onClose: () => answer(), name: "zero-again", leave: LATER });
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
    ...keptWords(at),
    shown, h("div", { class: "steps" }, ...steps.flatMap((step) => [-step, step]).map(stepper)), store,
  ], { onClose: () => answer(), name: "stepper", leave: LATER });
}

/** @param {string} kind */
const known = (kind) => /** @type {import("../../shared/vocabulary.js").EventKind} */ (EVENTS[kind]);
