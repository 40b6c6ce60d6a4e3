// @ts-check
/** The phone's state, always in sight at the top; a touch tells more. */
import { h, onPress, say } from "../page/dom.js";
import { showSheet } from "../page/sheet.js";

/** @typedef {import("./phone-state.js").Cells} Cells */
/** @typedef {{ name: string, state: string, advice: string, tone: Cells["gps"]["tone"] }} StatusLine */

const DRAW_MS = 1000;

/** @type {Record<keyof Cells, string>} */
const NAMES = { gps: "GPS", sync: "Server", screen: "Screen", storage: "Storage" };

/** @param {() => void} openStatus */
export function createStrip(openStatus) {
  const states = new Map(Object.keys(NAMES).map((name) => [name, h("b")]));
  const element = h("button", { class: "strip" },
    ...Object.entries(NAMES).map(([name, label]) =>
      h("span", { class: "cell", "data-cell": name }, h("small", {}, label), states.get(name) ?? null)));
  onPress(element, openStatus);
  /** What a screen reader says: that something was lost, and that it is back. */
  const heard = h("p", { class: "visually-hidden", role: "status" });
  return {
    element, heard,
    /** @param {Cells} cells */
    show(cells) {
      for (const [name, { text, tone }] of Object.entries(cells)) {
        const state = states.get(name);
        if (!state) continue;
        if ((state.dataset.tone === "bad") !== (tone === "bad") && (state.dataset.tone || tone === "bad")) {
          say(heard, `${NAMES[/** @type {keyof Cells} */ (name)]} ${text}`);
        }
        say(state, text);
        state.dataset.tone = tone;
      }
    },
  };
}

/** As it is now, for as long as the sheet is open. @param {() => StatusLine[]} lines @param {Node[]} actions */
export function openStatus(lines, actions) {
  const list = h("dl", { class: "states" });
  const draw = () => list.replaceChildren(...lines().flatMap(({ name, state, advice, tone }) => [
    h("dt", {}, name),
    h("dd", { "data-tone": tone }, h("b", {}, state), advice ? h("span", {}, advice) : null),
  ]));
  draw();
  const ticking = setInterval(draw, DRAW_MS);
  showSheet("State of this phone", [list, h("div", { class: "deeds" }, ...actions)],
    { name: "status-sheet", onClose: () => clearInterval(ticking) });
}
