// @ts-check
/** The run laid along time, distance or distance past zero: places for moments and back. */
import { convert } from "../../shared/units.js";
import { valueAt } from "../session/curves.js";
import { ascending, firstFrom } from "./thin.js";

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {import("../../shared/units.js").Units} Units */
/** @typedef {import("../../shared/units.js").Dimension} Dimension */
/** @typedef {import("../session/curves.js").AxisName} AxisName */
/** @typedef {{ value: Float64Array, low: Float64Array, high: Float64Array }} Lines */

/**
 * @param {Model} model
 * @param {Units} units
 * @param {AxisName} name
 */
export function layAlong(model, units, name) {
  const { curves, clock } = model;
  const tMs = curves.t_ms;
  // asking the time zone of each fix would take half a second; a run seldom meets a clock change
  const [early, late] = [clock.offsetMs(tMs[0] ?? 0), clock.offsetMs(tMs.at(-1) ?? 0)];
  const offsetMs = early === late ? () => early : clock.offsetMs;
  const column = name === "past_zero" ? curves.past_zero_m.value : curves.distance_m.value;
  const xs = name === "time" ? tMs.map((at) => at + offsetMs(at))
    : column.map((metres) => (metres === null ? null : convert("distance", metres, units)));
  const { x, columns: [moments = new Float64Array()] } = ascending(xs, [tMs]);

  return {
    x,
    /** @returns {[number, number]} the whole of it */
    range() {
      const [first = 0, last = 1] = [x[0], x.at(-1)];
      return [first, last > first ? last : first + 1];
    },
    /**
     * @param {number} at session time
     * @returns {number | null} its place
     */
    placeOf(at) {
      if (name === "time") return at + offsetMs(at);
      const metres = valueAt(tMs, column, at);
      return metres === null ? null : convert("distance", metres, units);
    },
    /**
     * @param {number} place
     * @returns {number | null} session time
     */
    momentAt(place) {
      if (name === "time") return Math.round(place - offsetMs(place));
      const after = Math.min(firstFrom(x, place), x.length - 1);
      const before = Math.max(0, after - 1);
      const [x0 = 0, x1 = 0] = [x[before], x[after]];
      const [from, to] = [moments[before], moments[after]];
      if (from === undefined || to === undefined) return null;
      const share = x1 > x0 ? Math.min(1, Math.max(0, (place - x0) / (x1 - x0))) : 1;
      return Math.round(from + share * (to - from));
    },
    /**
     * A band of the run in the unit shown, fit to be drawn at `x`.
     * @param {import("../session/documents").Band} band
     * @param {Dimension} dimension
     * @returns {Lines}
     */
    lines(band, dimension) {
      const { columns } = ascending(xs, [band.value, band.low, band.high]);
      const [value, low, high] = columns.map((one) => one.map((v) => convert(dimension, v, units)));
      const none = new Float64Array();
      return { value: value ?? none, low: low ?? none, high: high ?? none };
    },
  };
}
