// @ts-check
/** One figure with its interval, wherever it stands: the same three parts, sized by CSS. */
import { formatQuantity } from "../../shared/units.js";
import { el } from "./dom.js";

/**
 * @param {import("../../shared/units.js").Dimension} dimension
 * @param {import("../../shared/units.js").Quantity | null | undefined} quantity SI
 * @param {import("../../shared/units.js").Units} units
 * @param {{ unit?: boolean }} [options] unit false where a column's head carries it
 * @returns {HTMLSpanElement}
 */
export function figure(dimension, quantity, units, { unit = true } = {}) {
  const shown = formatQuantity(dimension, quantity, units);
  if (!shown) {
    return el("span", { class: "figure figure-unknown" },
      el("span", { class: "figure-value", "aria-hidden": "true" }, "\u2013"),
      el("span", { class: "visually-hidden" }, "not known"));
  }
  return el("span", { class: "figure" },
    el("span", { class: "figure-value" }, shown.value,
      unit && shown.unit && el("span", { class: "figure-unit" }, `\u00a0${shown.unit}`)),
    " ",
    shown.interval && el("span", { class: "figure-interval" }, shown.interval));
}
