// @ts-check
/** The state of this phone in words: what the strip on the drive page stands for. */
import { h } from "./dom.js";
import { showSheet } from "./sheet.js";

/** @typedef {{ name: string, state: string, advice: string, tone: "good" | "doubt" | "bad" }} StatusLine */

/** @param {StatusLine[]} lines @param {Node[]} actions */
export function openStatus(lines, actions) {
  showSheet("State of this phone", [
    h("dl", { class: "states" }, ...lines.flatMap(({ name, state, advice, tone }) => [
      h("dt", {}, name),
      h("dd", { "data-tone": tone }, h("b", {}, state), advice ? h("span", {}, advice) : null),
    ])),
    ...actions,
  ], { name: "status-sheet" });
}
