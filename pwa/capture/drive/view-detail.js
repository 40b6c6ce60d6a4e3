// @ts-check
/** What a tap asks for once its moment is kept: what a warning said, which value was shown. */
import { h, onPress, say } from "../page/dom.js";
import { showSheet } from "../page/sheet.js";
import { timeOfDay } from "../records/words.js";
import { WARNINGS } from "./taps.js";

/** @typedef {import("./types").Question} Question */

/** @param {Question} question */
export function askWarning({ at, signal, finish }) {
  const tiles = WARNINGS.map((text) => {
    const tile = h("button", { class: "key", "data-tone": "warn" }, h("span", {}, text));
    onPress(tile, () => {
      signal("taken");
      finish({ text });
      sheet.close();
    });
    return tile;
  });
  const sheet = showSheet("What did it say?", [
    h("p", { class: "kept" }, `Moment kept: ${timeOfDay(at.t_ms)}. Exact words can follow in the log.`),
    h("div", { class: "tiles" }, ...tiles),
  ], { onClose: () => finish(), name: "warnings" });
}

/** @param {import("./types").ValueQuestion} question */
export function askValue({ at, signal, finish, detail, unit, start, remember }) {
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
    finish({ value, unit });
    sheet.close();
  });
  const sheet = showSheet(detail === "percent" ? "Which % does it show?" : "No faster than…", [
    h("p", { class: "kept" }, `Moment kept: ${timeOfDay(at.t_ms)}.`),
    shown, h("div", { class: "steps" }, ...steps.map(stepper)), store,
  ], { onClose: () => finish(), name: "stepper" });
}
