// @ts-check
/** Two people changed the same thing: both versions side by side, and a choice. */
import { el } from "../page/dom.js";

/**
 * @typedef {object} Sides
 * @property {string} title
 * @property {string} heldBy who made the version that is held
 * @property {[string, string, string][]} lines name, yours, held; only where they differ
 * @property {() => void} onMine
 * @property {() => void} onHeld
 */

/**
 * @param {string} id of its title
 * @returns {{ element: HTMLElement, show: (sides: Sides) => void, hide: () => void }}
 */
export function createConflict(id) {
  const title = el("h4", { id });
  const body = el("div");
  const element = el("div", { class: "conflict", role: "alertdialog", "aria-labelledby": id, tabindex: -1, hidden: true }, title, body);
  return {
    element,
    show({ title: words, heldBy, lines, onMine, onHeld }) {
      title.textContent = words;
      body.replaceChildren(
        el("table", { class: "figures conflict-sides" },
          el("thead", {}, el("tr", {}, ...["", "Yours", `Saved, by ${heldBy}`].map((head) => el("th", { scope: "col", class: "words" }, head)))),
          el("tbody", {}, ...(lines.length ? lines : [/** @type {[string, string, string]} */ (["Content", "the same", "the same"])])
            .map(([name, yours, held]) => el("tr", {},
              el("th", { scope: "row" }, name), el("td", { class: "words" }, yours), el("td", { class: "words" }, held))))),
        el("div", { class: "button-row" },
          el("button", { type: "button", class: "primary", onclick: onHeld }, "Keep the saved one"),
          el("button", { type: "button", class: "quiet", onclick: onMine }, "Put mine in its place")),
        el("p", { class: "hint" }, "Either way both stay in the history."));
      element.hidden = false;
      element.scrollIntoView({ block: "center" });
      element.focus();
    },
    hide() {
      element.hidden = true;
    },
  };
}
