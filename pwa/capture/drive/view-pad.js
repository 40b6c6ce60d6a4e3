// @ts-check
/** The reading pad: one touch keeps the moment, then what the display showed at that moment. */
import { lastDigit, READINGS, readingName, shownResolution, unitName, usualResolution } from "../../shared/vocabulary.js";
import { h, onPress, say } from "../page/dom.js";
import { displayChoice } from "../page/prefs.js";
import { showSheet } from "../page/sheet.js";
import { timeOfDay } from "../records/words.js";

const MOST_DIGITS = 7;
const RESOLUTIONS = [1, 0.1, 0.01, 0.001];

/** @param {import("./types").PadParts} parts */
export function openPad({ at, quantities, prefs, distanceUnit, signal, store }) {
  /** @type {Map<string, string>} stored at this moment */
  const done = new Map();
  const body = h("div", { class: "pad" });
  showSheet(`Display at ${timeOfDay(at.t_ms)}`, [body], { name: "pad-sheet" });
  const [only] = quantities.length === 1 ? quantities : [];
  if (only) enter(only);
  else choose();

  /** @param {string} [message] */
  function choose(message) {
    const tiles = quantities.map((quantity) => {
      const stored = done.get(quantity);
      const { unit } = displayChoice(prefs, quantity, distanceUnit);
      const tile = h("button", { class: "key", "data-quantity": quantity, "data-tone": stored ? "zero" : "plain" },
        h("span", {}, readingName(quantity)), h("small", {}, stored ? `✓ ${stored}` : unitName(unit)));
      onPress(tile, () => {
        signal("taken");
        enter(quantity);
      });
      return tile;
    });
    body.replaceChildren(
      h("p", { class: "kept", role: "status" }, message ?? "Which figure? Several can follow, all for this moment."),
      h("div", { class: "tiles" }, ...tiles));
  }

  /** @param {string} quantity */
  function enter(quantity) {
    let { unit, resolution } = displayChoice(prefs, quantity, distanceUnit);
    let digits = "";
    let about = false;
    const value = h("output", { class: "pad-value", "aria-live": "polite" });
    const unitButton = chip();
    const resolutionButton = chip();
    const aboutButton = chip();
    const problem = h("p", { class: "kept", role: "status" });
    const save = h("button", { class: "key store" }, h("span", {}, "Store"));

    const show = () => {
      const number = h("b", {}, digits || "–");
      value.replaceChildren(...(about ? [h("span", {}, "about ")] : []), number, h("span", {}, ` ${unitName(unit)}`));
      say(unitButton, `in ${unitName(unit)}`);
      say(resolutionButton, `steps of ${resolution}`);
      say(aboutButton, "about: said roughly");
      aboutButton.setAttribute("aria-pressed", String(about));
      resolutionButton.disabled = about; // the last digit said is what it may be off by
      save.disabled = digits === "" || digits === ".";
    };
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
    unitButton.disabled = (READINGS[quantity]?.units.length ?? 1) < 2;

    /** @param {string} key */
    const type = (key) => {
      signal("taken");
      if (key === "⌫") digits = digits.slice(0, -1);
      else if (digits.length < MOST_DIGITS && !(key === "." && digits.includes("."))) digits += key;
      show();
    };
    const pad = ["1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "0", "⌫"].map((key) => {
      const button = h("button", { class: "key digit", "aria-label": key === "⌫" ? "Delete last digit" : key === "." ? "Decimal point" : key }, h("span", {}, key));
      onPress(button, () => type(key));
      return button;
    });

    onPress(save, async () => {
      if (save.disabled) return;
      save.disabled = true;
      signal("taken");
      const step = about ? lastDigit(digits) : shownResolution(digits, resolution);
      try {
        await store({ quantity, value: Number(digits), unit, resolution: step, about }, at);
      } catch {
        say(problem, "NOT STORED yet. Kept in memory; trying again. Keep the page open.");
        signal("failed");
        return;
      }
      prefs.keepDisplay(quantity, { unit, resolution });
      const said = `${about ? "about " : ""}${digits} ${unitName(unit)}`;
      done.set(quantity, said);
      choose(`Stored · ${readingName(quantity)} ${said}`);
    });
    const back = h("button", { class: "chip" }, "Other figure");
    onPress(back, () => choose());

    show();
    body.replaceChildren(
      h("div", { class: "pad-head" }, h("h3", {}, readingName(quantity)), back),
      value, problem,
      h("div", { class: "chips" }, unitButton, resolutionButton, aboutButton),
      h("div", { class: "digits" }, ...pad), save);
    save.focus();
  }
}

function chip() {
  return h("button", { class: "chip" });
}
