// @ts-check
/** What the phone has ready for a recording, as it is now. */
import { h, onTap } from "../page/dom.js";
import { missing } from "./start-gate.js";

/** @param {() => void} lookAgain for the position */
export function createGate(lookAgain) {
  const again = h("button", { class: "quiet", "data-action": "look-again" }, "Try again");
  onTap(again, lookAgain);
  const list = h("dl", { class: "states" });
  let shown = "";
  let without = "";
  let hasPosition = false;
  let changed = () => {};
  return {
    element: h("section", { class: "gate", "aria-label": "This phone" }, h("h2", {}, "This phone"), list, again),
    /** what a start now would do without; empty: nothing */
    without: () => without,
    hasPosition: () => hasPosition,
    /** @param {() => void} then */
    onChange(then) {
      changed = then;
    },
    /** @param {import("./types").GateLine[]} lines */
    show(lines) {
      const now = JSON.stringify(lines);
      if (now === shown) return;
      shown = now;
      without = missing(lines);
      hasPosition = lines[0]?.tone !== "bad";
      again.hidden = hasPosition;
      list.replaceChildren(...lines.flatMap(({ name, state, remedy, tone }) => [
        h("dt", {}, name),
        h("dd", { "data-tone": tone }, h("b", {}, state), remedy ? h("span", {}, remedy) : null),
      ]));
      changed();
    },
  };
}
