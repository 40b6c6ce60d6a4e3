// @ts-check
/** Distance and energy by car: a dot with its interval in each row. */
import { convert, unitOf } from "../../shared/units.js";
import { line, mark, whisker } from "../plots/marks.js";
import { createPlot, rangeOf } from "../plots/plot.js";
import { car } from "./model.js";
import { middle, three } from "./reserve-plot.js";
import { figureWords } from "./words.js";

/** @typedef {import("./model.js").Model} Model */

/** @param {import("../plots/focus.js").Focus} focus */
export function createDotsPlot(focus) {
  const plot = createPlot({
    name: "reserve-by-car", title: "Distance and energy past zero, by car", focus,
    note: "Dots are best estimates, bars 95 % intervals; hollow: it shut down before zero.",
  });
  return {
    ...plot,
    /** @param {Model} model @param {import("../../shared/units.js").Units} units */
    update({ rows, comparison }, units) {
      const inOrder = [...rows].sort((a, b) => middle(b.reserve_m ?? b.reserve_kwh) - middle(a.reserve_m ?? a.reserve_kwh));
      /** @param {"reserve_m" | "reserve_kwh"} key @param {"distance" | "energy"} dimension @returns {import("../plots/plot.js").Panel} */
      const panel = (key, dimension) => {
        const to = (/** @type {number} */ value) => convert(dimension, value, units);
        const range = rangeOf(rows.flatMap((row) => three(row[key]).map((end) => (typeof end === "number" ? to(end) : null))), 0);
        return {
          x: { title: `${dimension === "distance" ? "driven past zero" : "energy past zero"}, ${unitOf(dimension, units)}`, range },
          y: { title: "", rows: inOrder.map(({ name }) => name) },
          points: inOrder.flatMap((row, y) => (row[key] ? [{ id: row.session_id, x: to(middle(row[key])), y, words: `${car(row)}: ${figureWords(dimension, row[key], units)}` }] : [])),
          draw: ({ x, y, left, top, bottom }, focused) => [
            line([[x(0), top, x(0), bottom]], "var(--edge)", 1.2),
            ...inOrder.flatMap((row, i) => {
              const told = row[key];
              if (!told) return [];
              const colour = focused === row.session_id ? "var(--tide)" : "var(--ink)";
              return [whisker(told.low === null ? left : x(to(told.low)), x(to(told.high ?? middle(told))), y(i), "x", colour, 1.5),
                mark(row.shape, x(to(middle(told))), y(i), 4.5, colour, row.shut_down_before_zero)];
            }),
          ],
        };
      };
      void plot.update({
        source: comparison.engine,
        empty: rows.length === 0 ? "No session with a reserve to show yet." : undefined,
        panels: [panel("reserve_m", "distance"), panel("reserve_kwh", "energy")],
        table: [["session", "car", "distance_m", "distance_low_m", "distance_high_m", "energy_kwh", "energy_low_kwh", "energy_high_kwh"],
          ...inOrder.map((row) => [row.session_id, row.vehicle, ...three(row.reserve_m), ...three(row.reserve_kwh)])],
      });
    },
  };
}
