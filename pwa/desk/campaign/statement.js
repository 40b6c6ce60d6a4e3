// @ts-check
/** The answer in a sentence, and the three models behind it. */
import { formatNumber } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { figure, figureWords } from "../page/figure.js";

/** @typedef {import("./model.js").Model} Model */
/** @typedef {import("../../shared/units.js").Units} Units */

export const VERDICTS = {
  fixed: "A fixed amount, more than a share of the pack",
  proportional: "A share of the pack, more than a fixed amount",
  mixed: "A fixed amount, and more with a larger pack",
  undecided: "Fixed amount or share of the pack: not decided",
};
const NAMES = { fixed: "A fixed amount", proportional: "A share of the pack", mixed: "Some of both" };

/** @param {Model} model @param {Units} units @returns {Node[]} */
export function statement({ comparison }, units) {
  const { reserve_model: told, findings } = comparison;
  const [first = "", ...rest] = told.statement.split(/(?<=\.)\s+(?=[A-Z\d])/);
  return [
    el("p", { class: "verdict-line" }, VERDICTS[told.verdict]),
    el("p", { class: "statement" }, first),
    rest.length > 0 && el("p", { class: "statement-more" }, rest.join(" ")),
    ...findings.map(({ severity, message }) => el("p", { class: `answer-note answer-note-${severity}` },
      el("span", { "aria-hidden": "true" }, severity === "note" ? "\u25cb " : "\u25b2 "), message)),
    el("details", { class: "behind" }, el("summary", {}, "The three answers tried, and what each rests on"), models(comparison, units)),
  ].filter((node) => node instanceof Node);
}

/** @param {import("./documents").Comparison} comparison @param {Units} units */
function models({ reserve_model: told }, units) {
  const turning = told.without.filter(({ verdict }) => verdict !== told.verdict);
  return el("div", {},
    el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "Models, table" },
      el("table", { class: "figures beside" }, el("caption", { class: "visually-hidden" }, "Three models of the reserve"),
        el("thead", {}, el("tr", {}, ...["Answer", "Fixed part", "Share of the pack", "Cars differ by (1 s.d.)", "Weight (AICc)"].map((head, i) => el("th", { scope: "col", class: i === 0 ? "words" : null }, head)))),
        el("tbody", {}, ...told.models.map((one) => el("tr", {}, el("th", { scope: "row" }, NAMES[one.name]),
          el("td", {}, figure("energy", one.fixed_kwh, units)), el("td", {}, figure("percent", one.share_pct, units)),
          el("td", {}, figure("energy", one.between_cars_sd_kwh, units)), el("td", {}, one.weight === null ? "\u2013" : formatNumber(one.weight, 2))))))),
    told.next_car_kwh && el("p", { class: "hint" }, `A further car with a pack of ${formatNumber(told.mean_usable_kwh ?? 0, 0)}\u00a0kWh: ${figureWords("energy", told.next_car_kwh, units)}.`),
    told.without.length > 0 && el("p", { class: "hint" }, turning.length === 0 ? "Each car left out in turn: the same would be said."
      : `Each car left out in turn: something else would be said without ${turning.map(({ vehicle }) => vehicle).join(", or without ")}.`));
}
