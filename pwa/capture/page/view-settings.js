// @ts-check
/** Look, hand, units and sound; the same choices wherever the menu is opened. */
import { h, onTap } from "./dom.js";

/**
 * One choice among a few, as radio buttons.
 * @param {string} legend @param {string} name
 * @param {[value: string, label: string][]} options
 * @param {string} current
 * @param {(value: string) => void} choose
 */
export function choice(legend, name, options, current, choose) {
  return h("fieldset", { class: "choice" }, h("legend", {}, legend),
    ...options.map(([value, label]) => {
      const input = h("input", { type: "radio", name, value, checked: value === current });
      input.addEventListener("change", () => choose(value));
      return h("label", {}, input, h("span", {}, label));
    }));
}

/** @param {import("./types").SettingsParts} parts */
export function settings({ prefs, distanceUnit, setDistanceUnit, apply }) {
  const { theme, hand, sound } = prefs.get();
  return [
    choice("Look", "theme", [["system", "As phone"], ["day", "Day"], ["night", "Night"], ["contrast", "High contrast"]], theme, (value) => {
      prefs.set({ theme: /** @type {any} */ (value) });
      apply();
    }),
    choice("Held in which hand", "hand", [["left", "Left hand"], ["right", "Right hand"]], hand, (value) => {
      prefs.set({ hand: /** @type {any} */ (value) });
      apply();
    }),
    choice("Distances in", "distance", [["km", "km"], ["mi", "mi"]], distanceUnit, (value) =>
      setDistanceUnit(/** @type {any} */ (value))),
    choice("Sound", "sound", [["on", "On"], ["off", "Off"]], sound ? "on" : "off", (value) =>
      prefs.set({ sound: value === "on" })),
  ];
}

/** @param {string} label @param {string} hint @param {() => void} act @param {string} [tone] */
export function action(label, hint, act, tone = "plain") {
  const button = h("button", { class: "key wide", "data-tone": tone },
    h("span", {}, label), h("small", {}, hint));
  onTap(button, act);
  return button;
}
