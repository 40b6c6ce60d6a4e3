// @ts-check
/**
 * The reading pad: one touch keeps the moment, then what the display showed at it. The usual
 * figures of the phase follow one another; the last one closes it.
 */
import { readingName, unitName } from "../../shared/vocabulary.js";
import { h, onPress, say } from "../page/dom.js";
import { displayChoice } from "../page/prefs.js";
import { showSheet } from "../page/sheet.js";
import { span, timeOfDay } from "../records/words.js";
import { startMoment } from "./reading-moment.js";
import { createFigure } from "./view-figure.js";

const TICK_MS = 500;

/** @param {import("./types").PadParts} parts */
export function openPad(parts) {
  const { at, row, quantities, stamp, signal, prefs, distanceUnit } = parts;
  const moment = startMoment(at);
  /** @type {Map<string, string>} stored since the pad was opened */
  const done = new Map();
  /** @type {ReturnType<typeof createFigure> | null} the one that is being entered */
  let figure = null;

  const seen = h("b");
  const age = h("small");
  const now = h("button", { class: "now", "aria-label": "Now: take a fresh moment" }, "Now");
  onPress(now, renew);
  const body = h("div", { class: "pad" });
  const sheet = showSheet(h("span", { class: "moment" }, seen, age), [body],
    { name: "pad-sheet", aside: now, onClose: () => clearInterval(ticking) });
  const ticking = setInterval(tick, TICK_MS);
  sheet.element.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (figure?.key(event)) event.preventDefault();
  });
  if (row[0]) enter(row[0], "");
  else choose();

  function tick() {
    const now = stamp();
    const age_ms = moment.age_ms(now);
    say(seen, `Seen ${timeOfDay(moment.at().t_ms)}`);
    const left_ms = moment.left_ms(now);
    say(age, `${span(age_ms)} ago, ${left_ms < 0 ? "run out" : `${span(left_ms)} left`}`);
    age.dataset.tone = left_ms < 0 ? "doubt" : "good";
    figure?.offerFresh(moment.hasRunOut(now));
  }

  /** @param {number} at_mono_ms */
  function renew(at_mono_ms) {
    signal("taken");
    moment.renew(stamp(at_mono_ms));
    tick();
  }

  /** @param {number} at_mono_ms @returns {string} what is new about the moment */
  function stroke(at_mono_ms) {
    const now = stamp(at_mono_ms);
    const age_ms = moment.age_ms(now);
    if (!moment.stroke(now)) return "";
    tick();
    return `Fresh moment taken: ${timeOfDay(moment.at().t_ms)}. The last was ${span(age_ms)} old.`;
  }

  /** The figures of one pass, and the way to all others. @param {string} [current] */
  function tabs(current) {
    if (quantities.length < 2) return h("p", { class: "alone" }, readingName(current ?? ""));
    const tab = (/** @type {string} */ label, /** @type {boolean} */ isOn, /** @type {() => void} */ act, /** @type {Record<string, string>} */ more = {}) => {
      const button = h("button", { class: "chip tab", "aria-current": isOn && "true", ...more }, label);
      onPress(button, act);
      return button;
    };
    return h("div", { class: "tabs", role: "group", "aria-label": "Figures" },
      ...row.map((quantity) => tab(`${done.has(quantity) ? "✓ " : ""}${readingName(quantity)}`, quantity === current,
        () => enter(quantity, ""), { "data-quantity": quantity })),
      current && !row.includes(current) ? tab(readingName(current), true, () => {}) : null,
      tab("Other", current === undefined, choose));
  }

  function choose() {
    figure = null;
    const tiles = quantities.map((quantity) => {
      const stored = done.get(quantity);
      const { unit } = displayChoice(prefs, quantity, distanceUnit);
      const tile = h("button", { class: "key", "data-quantity": quantity, "data-tone": stored ? "zero" : "plain" },
        h("span", {}, readingName(quantity)), h("small", {}, stored ? `✓ ${stored}` : unitName(unit)));
      onPress(tile, () => {
        signal("taken");
        enter(quantity, "");
      });
      return tile;
    });
    body.replaceChildren(h("div", { class: "tiles" }, ...tiles));
    tiles[0]?.focus();
    tick();
  }

  /** @param {string} quantity @param {string} message on what was before */
  function enter(quantity, message) {
    figure = createFigure({
      ...parts, quantity, message, stroke, renew,
      last: parts.last(quantity),
      openCamera: parts.openCamera && (() => {
        sheet.close();
        parts.openCamera?.();
      }),
      async store(input, words) {
        await parts.store(input, moment.at());
        done.set(quantity, words);
        moment.stored();
        goOn(`Stored · ${readingName(quantity)} ${words}.`);
      },
    });
    body.replaceChildren(...[tabs(quantity), ...figure.parts].filter((part) => part !== null));
    figure.focus();
    tick();
  }

  /** @param {string} message */
  function goOn(message) {
    const next = row.find((quantity) => !done.has(quantity));
    if (!next) return sheet.close();
    enter(next, moment.hasRunOut(stamp()) ? message : `${message} Next one: from the same look, or touch Now as you look again.`);
  }
}
