// @ts-check
/** The figures behind the charts, for people who read them rather than look. */
import { formatNumber, formatQuantity } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { quantityOf } from "../session/curves.js";

const MOMENTS = 40;

/**
 * @param {import("../session/model.js").Model} model
 * @param {import("../../shared/units.js").Units} units
 * @param {(tMs: number) => number | null} socAt
 * @returns {HTMLTableElement}
 */
export function runTable(model, units, socAt) {
  const { curves, clock } = model;
  const last = curves.t_ms.length - 1;
  const rows = [...new Set(Array.from({ length: MOMENTS }, (_, k) => Math.round((last * k) / (MOMENTS - 1))))]
    .filter((i) => i >= 0)
    .map((i) => {
      const tMs = curves.t_ms[i] ?? 0;
      const at = socAt(tMs);
      return el("tr", {},
        el("th", { scope: "row" }, clock.time(tMs)),
        ...[
          formatQuantity("distance", quantityOf(curves.distance_m, i), units)?.text,
          formatQuantity("distance", quantityOf(curves.past_zero_m, i), units)?.text,
          formatQuantity("energy", quantityOf(curves.energy_past_zero_kwh, i), units)?.text,
          formatQuantity("speed", quantityOf(curves.speed_mps, i), units)?.text,
          at === null ? null : `${formatNumber(at, 0)} %`,
        ].map((text) => el("td", {}, text ?? "\u2013")));
    });
  return el("table", { class: "figures" },
    el("caption", { class: "visually-hidden" }, "The curves at forty moments, with 95 % intervals"),
    el("thead", {}, el("tr", {}, ...["Clock", "Distance", "Past zero", "Energy past zero", "Speed", "Displayed charge"]
      .map((head) => el("th", { scope: "col" }, head)))),
    el("tbody", {}, ...rows));
}
