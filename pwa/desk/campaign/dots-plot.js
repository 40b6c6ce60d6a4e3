// @ts-check
/** Distance and energy by car: a dot with its interval in each row. */
import { convert, unitOf } from "../../shared/units.js";
import { figureWords, whole } from "../page/figure.js";
import { bounds, label, line, mark, whisker } from "../plots/marks.js";
import { createPlot, rangeOf } from "../plots/plot.js";
import { three } from "../page/files.js";
import { car } from "./model.js";
import { carKeys, middle } from "./reserve-plot.js";
import { BEFORE_ZERO, distanceOf } from "./words.js";

/** @typedef {import("./model.js").Model} Model */

/** @param {import("../plots/focus.js").Focus} focus @param {() => string} whose */
export function createDotsPlot(focus, whose) {
  const plot = createPlot({
    name: "reserve-by-car", title: "Distance and energy past zero, by car", focus, whose,
    note: "Dots are best estimates, bars 95 % intervals.",
  });
  return {
    ...plot,
    /** @param {Model} model @param {import("../../shared/units.js").Units} units */
    update({ rows, comparison, chemistries }, units) {
      const inOrder = [...rows].sort((a, b) => middle(distanceOf(b) ?? b.reserve_kwh) - middle(distanceOf(a) ?? a.reserve_kwh));
      /** @param {"reserve_m" | "reserve_kwh"} key @param {"distance" | "energy"} dimension @returns {import("../plots/plot.js").Panel} */
      const panel = (key, dimension) => {
        const to = (/** @type {number} */ value) => convert(dimension, value, units);
        const of = (/** @type {import("./model.js").Row} */ row) => (key === "reserve_m" ? distanceOf(row) : row[key]);
        const range = rangeOf(rows.flatMap((row) => [of(row)?.value, of(row)?.low, of(row)?.high].map((end) => (typeof end === "number" ? to(end) : null))), 0);
        return {
          x: { title: `${dimension === "distance" ? "driven past zero" : "energy past zero"}, ${unitOf(dimension, units)}`, range },
          y: { title: "", rows: inOrder.map(({ name }) => name) },
          points: inOrder.flatMap((row, y) => (row[key] ? [{ id: row.session_id, x: to(middle(of(row))), y, words: `${car(row)}: ${of(row) ? figureWords(dimension, of(row), units) : BEFORE_ZERO}` }] : [])),
          draw: ({ x, y, left, right, top, bottom }, focused) => [
            line([[x(0), top, x(0), bottom]], "var(--edge)", 1.2),
            ...inOrder.flatMap((row, i) => {
              const told = of(row);
              const colour = focused === row.session_id ? "var(--tide)" : "var(--ink)";
              if (!told) return row.shut_down_before_zero ? [label(x(0) + 8, y(i) + 4, BEFORE_ZERO, { fill: colour, "font-style": "italic" })] : [];
              const known = whole(told);
              if (!known) return [bounds(told.low === null ? null : x(to(told.low)), told.high === null ? null : x(to(told.high)), [left, right], y(i), "x", colour)];
              return [whisker(x(to(known.low)), x(to(known.high)), y(i), "x", colour, 1.5), mark(row.shape, x(to(known.value)), y(i), 4.5, colour)];
            }),
          ],
        };
      };
      void plot.update({
        source: comparison.engine,
        empty: rows.length === 0 ? "No session with a reserve to show yet." : undefined,
        legend: carKeys(rows, chemistries, "x"),
        panels: [panel("reserve_m", "distance"), panel("reserve_kwh", "energy")],
        table: [["session", "car", "distance_m", "distance_low_m", "distance_high_m", "energy_kwh", "energy_low_kwh", "energy_high_kwh", "shut_down_before_zero"],
          ...inOrder.map((row) => [row.session_id, row.vehicle, ...three(distanceOf(row)), ...three(row.reserve_kwh), String(row.shut_down_before_zero)])],
      });
    },
  };
}
