// @ts-check
/** A paragraph to paste below a film or into an article, and what must be said with it. */
import { request } from "../../shared/api.js";
import { copyButton } from "../page/copy-button.js";
import { el } from "../page/dom.js";

/** @typedef {import("./offer").ToPaste} ToPaste */

/**
 * @param {string} id session
 */
export function createToPaste(id) {
  const element = el("div", { class: "to-paste" });
  let wanted = "";
  return {
    element,
    /** @param {string} units as an address carries them */
    async show(units) {
      wanted = units;
      try {
        const told = /** @type {ToPaste} */ (await request(`/sessions/${encodeURIComponent(id)}/publish/to-paste?${units}`));
        if (wanted === units) element.replaceChildren(...parts(told));
      } catch (error) {
        element.replaceChildren(el("p", { class: "trouble", role: "alert" },
          `The paragraph can\u2019t be written: ${error instanceof Error ? error.message : error}`));
      }
    },
  };
}

/** @param {ToPaste} told */
function parts({ paragraph, said_with }) {
  return [
    el("blockquote", {}, paragraph),
    el("div", { class: "form-actions" }, ...copyButton("Copy the paragraph", () => paragraph)),
    el("h4", {}, "To be said with it"),
    el("ul", {}, ...said_with.map((each) => el("li", {}, each))),
    el("div", { class: "form-actions" }, ...copyButton("Copy this list", () => said_with.map((each) => `- ${each}`).join("\n"))),
  ];
}
