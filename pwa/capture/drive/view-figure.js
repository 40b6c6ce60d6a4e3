// @ts-check
/** One figure of the display: typed, the same as last time, or a step on from there. */
import { decimalsOf, lastDigit, READINGS, readingName, shownResolution, unitName, usualResolution } from "../../shared/vocabulary.js";
import { h, onPress, say } from "../page/dom.js";
import { glyph, PHOTO } from "../page/glyphs.js";
import { displayChoice } from "../page/prefs.js";

const MOST_DIGITS = 7;
const RESOLUTIONS = [1, 0.1, 0.01, 0.001];
const KEYS = ["1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "0", "⌫"];
/** @type {Record<string, string>} */
const KEY_NAMES = { "⌫": "Delete last digit", ".": "Decimal point" };
/** @type {Record<string, string>} what a keyboard sends for them */
const TYPED = { Backspace: "⌫", Delete: "⌫", ",": "." };

/** @param {import("./types").FigureParts} parts */
export function createFigure({ quantity, message, prefs, distanceUnit, signal, last, stroke, renew, store, openCamera }) {
  let { unit, resolution } = displayChoice(prefs, quantity, distanceUnit);
  let digits = "";
  let about = false;
  let storing = false;
  const before = last?.unit === unit ? last.value : null;
  const signed = unit === "degC";

  const said = h("p", { class: "kept", role: "status" }, message);
  const value = h("output", { class: "pad-figure", "aria-live": "polite", tabindex: -1, "aria-label": readingName(quantity) });
  const fresh = h("button", { class: "key fresh", "data-tone": "zero", hidden: true },
    h("span", {}, "Fresh moment"), h("small", {}, "as you see it, or with the first digit"));
  const [unitButton, resolutionButton, aboutButton] = [chip(), chip(), chip()];
  const below = h("button", { class: "chip" }, "below 0");
  const photo = h("button", { class: "chip", "aria-label": "Photo instead" }, glyph(PHOTO));
  const save = h("button", { class: "key store" }, h("span", {}, "Store"));
  unitButton.disabled = (READINGS[quantity]?.units.length ?? 1) < 2;

  function show() {
    value.replaceChildren(...(about ? [h("span", {}, "about ")] : []),
      h("b", {}, digits.replace("-", "−") || "–"), h("span", {}, ` ${unitName(unit)}`));
    say(unitButton, `in ${unitName(unit)}`);
    say(resolutionButton, `steps of ${resolution}`);
    say(aboutButton, "about");
    aboutButton.setAttribute("aria-pressed", String(about));
    below.setAttribute("aria-pressed", String(digits.startsWith("-")));
    resolutionButton.disabled = about; // the last digit said is what it may be off by
    save.disabled = storing || !/\d/.test(digits);
  }

  onPress(fresh, renew);
  onPress(unitButton, () => {
    const units = READINGS[quantity]?.units ?? [unit];
    unit = units[(units.indexOf(unit) + 1) % units.length] ?? unit;
    resolution = usualResolution(quantity, unit);
    show();
  });
  onPress(resolutionButton, () => {
    resolution = RESOLUTIONS[(RESOLUTIONS.indexOf(resolution) + 1) % RESOLUTIONS.length] ?? 1;
    show();
  });
  onPress(aboutButton, () => {
    about = !about;
    show();
  });
  onPress(below, (at) => type("-", at));
  onPress(photo, () => openCamera?.());

  /** @param {string} key @param {number} at_mono_ms */
  function type(key, at_mono_ms) {
    if (storing) return;
    touched(at_mono_ms);
    if (key === "-") digits = digits.startsWith("-") ? digits.slice(1) : `-${digits}`;
    else if (key === "⌫") digits = digits.slice(0, -1);
    else if (digits.length < MOST_DIGITS && !(key === "." && digits.includes("."))) digits += key;
    show();
  }

  /** @param {number} at_mono_ms */
  function touched(at_mono_ms) {
    signal("taken");
    const news = stroke(at_mono_ms);
    if (!news) return;
    say(said, news);
    said.dataset.tone = "news";
  }

  const pad = KEYS.map((key) => {
    const button = h("button", { class: "key digit", "aria-label": KEY_NAMES[key] ?? key }, h("span", {}, key));
    onPress(button, (at) => type(key, at));
    return button;
  });

  /** @param {number} by @param {number} at_mono_ms */
  function step(by, at_mono_ms) {
    if (storing) return;
    touched(at_mono_ms);
    digits = stepped(Number(digits || before), by);
    show();
  }

  /** @param {number} from @param {number} by */
  const stepped = (from, by) => Math.max(signed ? -Infinity : 0, from + by).toFixed(decimalsOf(resolution));

  /** @param {string} label @param {string} name @param {(at_mono_ms: number) => void} act */
  function quick(label, name, act) {
    const button = h("button", { class: "chip quick", "aria-label": name }, label);
    onPress(button, act);
    return button;
  }
  const by = (/** @type {number} */ steps) => {
    const change = Number((steps * resolution).toFixed(decimalsOf(resolution)));
    return quick(`${change < 0 ? "−" : "+"}${Math.abs(change)}`, `${change < 0 ? "Less" : "More"} by ${Math.abs(change)}`, (at) => step(change, at));
  };
  const same = before === null ? null : quick(`Store ${before} again`, `Store ${before} again: the same as last`, (at) => {
    if (storing) return;
    touched(at);
    digits = stepped(before, 0);
    void keep();
  });
  same?.classList.add("stores");
  const row = !same ? [] : READINGS[quantity]?.only_rises ? [same, by(1), by(10)] : [by(-1), same, by(1)];

  async function keep() {
    if (storing || !/\d/.test(digits)) return;
    storing = true;
    show();
    const step = about ? lastDigit(digits) : shownResolution(digits, resolution);
    try {
      const words = `${about ? "about " : ""}${digits.replace("-", "−")} ${unitName(unit)}`;
      await store({ quantity, value: Number(digits), unit, resolution: step, about }, words);
      prefs.keepDisplay(quantity, { unit, resolution });
    } catch {
      say(said, "NOT STORED yet. Kept in memory; trying again. Keep the page open.");
      signal("failed");
    }
  }
  onPress(save, () => {
    if (save.disabled) return;
    signal("taken");
    void keep();
  });

  show();
  return {
    parts: [
      h("div", { class: "pad-value" }, said, value, fresh),
      h("div", { class: "chips" }, unitButton, resolutionButton, aboutButton, signed ? below : null, openCamera ? photo : null),
      ...(row.length ? [h("div", { class: "quicks", role: "group", "aria-label": "From the last figure" }, ...row)] : []),
      h("div", { class: "digits" }, ...pad), save,
    ],
    focus: () => value.focus(),
    /** @param {boolean} hasRunOut of the moment, with nothing typed yet */
    offerFresh(hasRunOut) {
      fresh.hidden = !(hasRunOut && digits === "" && !storing);
    },
    /** @param {KeyboardEvent} event @returns {boolean} whether it was for us */
    key({ key, timeStamp, target }) {
      const typed = TYPED[key] ?? key;
      if (KEYS.includes(typed) || (signed && typed === "-")) type(typed, timeStamp);
      else if (key === "Enter" && !(target instanceof HTMLButtonElement)) void keep();
      else return false;
      return true;
    },
  };
}

const chip = () => h("button", { class: "chip" });
