// @ts-check
/** The phone's state, always in sight at the top; a touch tells more. */
import { h, onPress, say } from "./dom.js";

/** @typedef {import("./phone-state.js").Cells} Cells */

/** @type {Record<keyof Cells, string>} */
const NAMES = { gps: "GPS", sync: "Sync", screen: "Screen", storage: "Storage" };

/** @param {() => void} openStatus */
export function createStrip(openStatus) {
  const states = new Map(Object.keys(NAMES).map((name) => [name, h("b")]));
  const element = h("button", { type: "button", class: "strip" },
    ...Object.entries(NAMES).map(([name, label]) =>
      h("span", { class: "cell", "data-cell": name }, h("small", {}, label), states.get(name) ?? null)));
  onPress(element, openStatus);
  return {
    element,
    /** @param {Cells} cells */
    show(cells) {
      for (const [name, { text, tone }] of Object.entries(cells)) {
        const state = states.get(name);
        if (!state) continue;
        say(state, text);
        state.dataset.tone = tone;
      }
    },
  };
}
