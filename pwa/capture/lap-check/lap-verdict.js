// @ts-check
/** What the checked laps are worth, in plain words. Pure. */
import { COVERAGE_95 } from "../../shared/measures.js";

/** How well the distance should be known, in percent, and who says so. */
const BOUND_PCT = 0.1;
const BOUND = "0.1\u00a0%";
export const BOUND_SOURCE =
  "0.1\u00a0%: what distance instruments of range tests are allowed, (EU) 134/2014, annex VII, table Ap3.3-1.";
/** A proposal, not in force as far as seen. */
export const TRIP_BOUND_SOURCE = "±5\u00a0% was proposed for odometers in UNECE GRSG-127.";
const TRIP_BOUND_PCT = 5;

/** As on the server: the driven line lies about 0.25 m beside the surveyed one, all round. */
const LINE_SD_M = 2 * Math.PI * 0.25;
const USUAL_SURVEY_SD_M = 1;
const MOST_LAPS = 3;

/** @param {import("./types").Checked} checked @returns {import("./types").Verdict} */
export function lapVerdict(checked) {
  const { length_m, half_m, laps, surveyed_m, surveyed_sd_m } = checked;
  const doubt_pct = (100 * half_m) / length_m;
  const another = anotherLap(doubt_pct, laps);
  const sure = doubt_pct <= BOUND_PCT;
  if (surveyed_m === null) {
    return sure
      ? { tone: "good", verdict: `Good enough: known to ±${pct(doubt_pct)}, within ${BOUND}.`, advice: "No survey to compare with: you can use this lap as the reference." }
      : { tone: "doubt", verdict: `Not sure yet: known to ±${pct(doubt_pct)}, not yet within ${BOUND}.`, advice: another };
  }
  const off_pct = 100 * (length_m / surveyed_m - 1);
  const survey_half_m = COVERAGE_95 * Math.hypot(surveyed_sd_m ?? USUAL_SURVEY_SD_M, LINE_SD_M);
  const agrees = checked.agrees ?? Math.abs(length_m - surveyed_m) <= Math.hypot(half_m, survey_half_m);
  if (!agrees) {
    const way = off_pct > 0 ? "longer" : "shorter";
    return {
      tone: "bad",
      verdict: `They differ: ${pct(Math.abs(off_pct))} ${way} than surveyed, more than both uncertainties allow.`,
      advice: "Check the surveyed figure and the line that was driven before you trust either.",
    };
  }
  if (!sure) {
    return {
      tone: "fair",
      verdict: `Looks right so far: ${pct(Math.abs(off_pct))} off. Known to ±${pct(doubt_pct)}, not yet within ${BOUND}.`,
      advice: another,
    };
  }
  return {
    tone: "good",
    verdict: `Good enough: ${pct(Math.abs(off_pct))} off, known to ±${pct(doubt_pct)}, within ${BOUND}.`,
    advice: laps < MOST_LAPS ? another : "More laps would tell little more.",
  };
}

/** Most of the doubt is where the line was crossed, and is shared by all laps between. */
function anotherLap(/** @type {number} */ doubt_pct, /** @type {number} */ laps) {
  if (laps === 1) return "Another lap would halve the uncertainty.";
  return `Another lap would bring it to about ±${pct((doubt_pct * laps) / (laps + 1))}.`;
}

/**
 * @param {{ value: number, low: number, high: number }} ratio the car's meter over ours, 95 %
 * @returns {string}
 */
export function tripVerdict({ value, low, high }) {
  const off_pct = 100 * (value - 1);
  const half_pct = 50 * (high - low);
  const counts = `The trip meter reads ${pct(Math.abs(off_pct))} ${off_pct < 0 ? "low" : "high"} against GPS, ±${pct(half_pct)}`;
  if (low <= 1 && high >= 1) return `${counts}: they agree.`;
  const doubt = `${counts}: more than both uncertainties allow`; // what the desk calls a doubt as well
  return Math.abs(off_pct) <= TRIP_BOUND_PCT ? `${doubt}, as with many cars. Ours is kept.` : `${doubt}, and far off; check its unit.`;
}

/** @param {number} x @returns {string} two digits that count, and the unit */
const pct = (x) => `${x.toFixed(x < 0.95 ? 2 : x < 9.5 ? 1 : 0)}\u00a0%`;
