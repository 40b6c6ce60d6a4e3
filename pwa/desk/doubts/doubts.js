// @ts-check
/** The doubts, before anything else: the worst first, each with the way to mend it. */
import { DEFAULT_UNITS } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { told } from "../words/told.js";
import { remediesFor } from "./remedies.js";

/** @typedef {import("../session/documents").Finding} Finding */
/** @typedef {Omit<import("../session/model.js").Model, "curves">} Model */

const SEVERITIES = { error: ["Error", "\u25a0"], doubt: ["Doubt", "\u25b2"], note: ["Note", "\u25cb"] };
const ALIKE = 3; // so many of one code stay open; more are folded into one line

/** @param {import("./remedies.js").Ways} ways */
export function createDoubts(ways) {
  const element = el("div", { class: "doubts" });
  let notesOpen = false;
  /** @type {import("../../shared/units.js").Units} */
  let units = DEFAULT_UNITS;
  return {
    element,
    /** @param {Model} model @param {import("../../shared/units.js").Units} shown */
    update(model, shown) {
      units = shown;
      const { findings } = model.result;
      if (findings.length === 0) {
        element.replaceChildren(el("p", { class: "empty" }, "No problems found."));
        return;
      }
      const grave = [...findings.filter(({ severity }) => severity === "error"), ...findings.filter(({ severity }) => severity === "doubt")];
      const notes = findings.filter(({ severity }) => severity === "note");
      const codes = [...new Set(grave.map(({ code }) => code))];
      const open = codes.map((wanted) => grave.filter(({ code }) => code === wanted)).map((alike) => alike.length <= ALIKE
        ? alike.map((finding) => line(finding, model))
        : [line(alike[0], model), el("li", {}, fold(`${alike.length - 1} more of the same kind`, alike.slice(1), model))]).flat();
      const folded = notes.length > 0 && fold(`${notes.length} ${notes.length === 1 ? "note" : "notes"}`, notes, model);
      if (folded) {
        folded.open = notesOpen || grave.length === 0;
        folded.addEventListener("toggle", () => {
          notesOpen = folded.open;
        });
      }
      element.replaceChildren(el("ul", { class: "findings" }, ...open), folded || "");
    },
  };

  /** @param {string} words @param {Finding[]} findings @param {Model} model */
  function fold(words, findings, model) {
    return el("details", { class: "findings-folded" }, el("summary", {}, words),
      el("ul", { class: "findings" }, ...findings.map((finding) => line(finding, model))));
  }

  /** @param {Finding | undefined} finding @param {Model} model */
  function line(finding, model) {
    if (!finding) return el("li");
    const { severity } = finding;
    const [word, sign] = SEVERITIES[severity];
    const remedies = remediesFor(finding, model, ways);
    return el("li", { class: `finding finding-${severity}`, "data-code": finding.code },
      el("span", { class: "finding-severity" }, el("span", { "aria-hidden": "true" }, `${sign} `), word ?? severity),
      el("span", { class: "finding-message" }, told(finding, model.clock, units)),
      el("span", { class: "finding-ways" }, ...remedies.map(({ words, act }) =>
        el("button", { type: "button", class: "quiet small", onclick: act }, words))));
  }
}
