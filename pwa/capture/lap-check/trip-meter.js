// @ts-check
/** The car's trip meter against the phone's own distance, as far as a phone can tell. Pure. */
import { COVERAGE_95, METRES_PER_MILE } from "../../shared/measures.js";
import { step_m } from "../position/odometer.js";

/** @typedef {import("../storage/rows").Fix} Fix */
/** @typedef {import("../storage/rows").RecordRow} RecordRow */

const SHORTEST_M = 500;
/** How unsure the moment of a noted figure is: common practice, no source. */
const MOMENT_SD_S = 0.4;

/**
 * First against last figure. A figure shown in steps of r has a standard uncertainty of r/√12
 * (JCGM 100:2008, F.2.2.1), two of them √2 times as much.
 * @param {Fix[]} fixes in order @param {RecordRow[]} rows standing ones
 * @returns {{ value: number, low: number, high: number } | null} meter over phone, 95 %
 */
export function tripRatio(fixes, rows) {
  const figures = rows.filter((row) => row.doc.quantity === "trip_distance");
  const [first, last] = [figures[0]?.doc, figures.at(-1)?.doc];
  if (!first || !last || first === last || first.unit !== last.unit) return null;
  const [from, to] = [placeAt(fixes, first.t_ms), placeAt(fixes, last.t_ms)];
  if (!from || !to) return null;
  const unit_m = last.unit === "mi" ? METRES_PER_MILE : 1000;
  const ours_m = to.along_m - from.along_m;
  const shown_m = (last.value - first.value) * unit_m;
  if (ours_m < SHORTEST_M || shown_m <= 0) return null;
  const rounding_m = (last.resolution * unit_m) / Math.sqrt(6);
  const timing_m = MOMENT_SD_S * Math.hypot(from.speed_mps, to.speed_mps);
  const value = shown_m / ours_m;
  const half = (COVERAGE_95 * Math.hypot(rounding_m, timing_m)) / ours_m;
  return { value, low: value - half, high: value + half };
}

/** @param {Fix[]} fixes @param {number} t_ms */
function placeAt(fixes, t_ms) {
  let along_m = 0;
  for (let i = 1; i < fixes.length; i += 1) {
    const [before, after] = [fixes[i - 1], fixes[i]];
    if (!before || !after) return null;
    const leg_m = step_m(before, after);
    if (before.t_ms <= t_ms && t_ms <= after.t_ms && after.t_ms > before.t_ms) {
      const share = (t_ms - before.t_ms) / (after.t_ms - before.t_ms);
      return { along_m: along_m + share * leg_m, speed_mps: (1000 * leg_m) / (after.t_ms - before.t_ms) };
    }
    along_m += leg_m;
  }
  return null;
}
