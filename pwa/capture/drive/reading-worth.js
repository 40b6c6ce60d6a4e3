// @ts-check
/**
 * Which figure of the display is worth noting now. Pure.
 *
 * Between two readings the energy is known as well as the last reading says plus a share of what
 * was used since: that doubt grows with the road, not with the clock. A reading is asked for once
 * the grown part is as large as what the display itself leaves open, so that it halves the
 * variance at least. A step of the display says more than any figure that stands still: where
 * steps were tapped, the next one is announced shortly before it is due.
 */

import { COVERAGE_95 } from "../../shared/measures.js";
import { chargeWorth } from "./recharge.js";

/** @typedef {import("../storage/rows").RecordRow} RecordRow */
/** @typedef {import("./types").Worth} Worth */
/** @typedef {import("./types").Standing} Standing */
/** @typedef {{ id: string, sd_kwh: number, at_m: number, t_ms: number, quantity: string }} Evidence */

/** JCGM 100:2008, F.2.2.1: a figure shown in steps of r has a standard uncertainty of r/√12. */
const STEP_TO_SD = 1 / Math.sqrt(12);
/** Usual use of a car, and how far it strays from its mean: common practice, no source. */
const USUAL = { kwh_per_km: 0.17, share: 0.35 };
const LEAST_SHARE = 0.1;
/** Nobody needs the energy better than by a display that shows 0.1 kWh. */
const FINEST_SD_KWH = 0.1 * STEP_TO_SD;
const LEAST_PAUSE_MS = 45000;
const NOTHING_YET_M = 300;
const SHORTEST_SPAN_M = 300;
const STEP_NEAR = 0.85;
const STEP_OVERDUE = 1.2;

/** @type {Record<string, (value: number) => number>} mean consumption in kWh/km */
const TO_KWH_PER_KM = {
  "kWh/100km": (x) => x / 100, "Wh/km": (x) => x / 1000, "Wh/mi": (x) => x / 1609.344,
  "km/kWh": (x) => 1 / x, "mi/kWh": (x) => 1 / (x * 1.609344),
};

/** @param {Standing} standing @returns {Worth | null} */
export function readingWorth(standing) {
  const { phase, rows } = standing;
  if (phase === "charging") return chargeWorth(standing);
  return (phase === "before" ? stepWorth(rows, standing.along_m) : null) ?? driveWorth(standing);
}

/** @param {Standing} standing @returns {Worth | null} */
function driveWorth({ phase, rows, along_m, now_ms, usable_kwh }) {
  const evidence = energyEvidence(rows, usable_kwh);
  if (!evidence.length) {
    return along_m < NOTHING_YET_M ? null
      : { ...figureWorth("none", "trip_energy"), since_m: along_m };
  }
  const { kwh_per_km, share } = useOf(rows);
  const grown = (/** @type {Evidence} */ one) => (share * kwh_per_km * (along_m - one.at_m)) / 1000;
  const sd = (/** @type {Evidence} */ one) => Math.hypot(one.sd_kwh, grown(one));
  const best = evidence.reduce((a, b) => (sd(b) < sd(a) ? b : a));
  const shown = evidence.filter((one) => one.sd_kwh > 0);
  const finest = shown.reduce((a, b) => (b.sd_kwh < a.sd_kwh ? b : a), shown[0] ?? best);
  if (now_ms - best.t_ms < LEAST_PAUSE_MS) return null;
  if (grown(best) < Math.max(finest.sd_kwh, FINEST_SD_KWH)) return null;
  const doubt_kwh = COVERAGE_95 * sd(best);
  // below zero the display says 0 % and no more: there the trip meter is what tells
  const quantity = phase !== "before" && finest.quantity === "soc" ? "trip_energy" : finest.quantity;
  return { ...figureWorth(best.id, quantity), doubt_kwh, grown: doubt_kwh, since_m: along_m - best.at_m };
}

/**
 * The next step of the displayed %, where two tapped ones tell how far apart they come.
 * @param {RecordRow[]} rows @param {number} along_m @returns {Worth | null}
 */
function stepWorth(rows, along_m) {
  const [before, last] = rows.filter((row) => row.doc.kind === "soc_step" && row.along_m !== null).slice(-2);
  if (!before || !last || !(last.doc.value > 0)) return null;
  const steps = before.doc.value - last.doc.value;
  const due_m = ((last.along_m ?? 0) - (before.along_m ?? 0)) / steps;
  if (!(steps > 0) || due_m < SHORTEST_SPAN_M) return null;
  const since_m = along_m - (last.along_m ?? 0);
  if (since_m < STEP_NEAR * due_m || since_m > STEP_OVERDUE * due_m) return null;
  return {
    kind: "step", key: last.id, quantity: "soc", value: last.doc.value - 1,
    doubt_kwh: null, grown: 0, since_m, due_m, age_ms: 0,
  };
}

/**
 * The latest of each kind of record that says how much energy is used or left.
 * @param {RecordRow[]} rows @param {number | null} usable_kwh @returns {Evidence[]}
 */
function energyEvidence(rows, usable_kwh) {
  const reset = rows.findLast((row) => row.doc.kind === "trip_reset");
  /** @type {Map<string, Evidence>} */
  const latest = new Map();
  for (const row of rows) {
    const found = energyOf(row, reset, usable_kwh);
    if (found) latest.set(found.quantity, { ...found, id: row.id, at_m: row.along_m ?? 0, t_ms: row.doc.t_ms });
  }
  return [...latest.values()];
}

/**
 * @param {RecordRow} row @param {RecordRow | undefined} reset @param {number | null} usable_kwh
 * @returns {{ quantity: string, sd_kwh: number } | null}
 */
function energyOf({ doc, along_m }, reset, usable_kwh) {
  const step_sd = (doc.resolution ?? 1) * STEP_TO_SD;
  if (doc.kind === "trip_reset") return { quantity: "trip_energy", sd_kwh: 0 };
  if (doc.quantity === "trip_energy") return { quantity: "trip_energy", sd_kwh: step_sd };
  if (usable_kwh && (doc.quantity === "soc" || doc.kind === "soc_step")) {
    return { quantity: "soc", sd_kwh: (step_sd * usable_kwh) / 100 };
  }
  const per_km = TO_KWH_PER_KM[doc.unit];
  if (doc.quantity === "mean_consumption" && per_km && reset && doc.value > 0) {
    const trip_km = ((along_m ?? 0) - (reset.along_m ?? 0)) / 1000;
    const width = Math.abs(per_km(doc.value + doc.resolution / 2) - per_km(doc.value - doc.resolution / 2));
    return { quantity: "mean_consumption", sd_kwh: width * trip_km * STEP_TO_SD };
  }
  return null;
}

/**
 * What the car uses and how sure that is: from its own readings where they tell.
 * @param {RecordRow[]} rows @returns {{ kwh_per_km: number, share: number }}
 */
function useOf(rows) {
  const reset = rows.findLastIndex((row) => row.doc.kind === "trip_reset");
  const trip = rows.slice(reset + 1).filter((row) => row.doc.quantity === "trip_energy");
  const [first, last] = [trip[0], trip.at(-1)];
  if (first && last) {
    const used_kwh = last.doc.value - first.doc.value;
    const span_m = (last.along_m ?? 0) - (first.along_m ?? 0);
    const rounding = (last.doc.resolution * STEP_TO_SD * Math.SQRT2) / used_kwh;
    if (used_kwh > 0 && span_m >= SHORTEST_SPAN_M && rounding < USUAL.share) {
      return { kwh_per_km: (used_kwh * 1000) / span_m, share: Math.hypot(LEAST_SHARE, rounding) };
    }
  }
  const mean = rows.findLast((row) => row.doc.quantity === "mean_consumption");
  const per_km = mean && mean.doc.value > 0 ? TO_KWH_PER_KM[mean.doc.unit] : null;
  return mean && per_km ? { kwh_per_km: per_km(mean.doc.value), share: 2 * LEAST_SHARE } : USUAL;
}

/** @param {string} key @param {string} quantity @returns {Worth} */
const figureWorth = (key, quantity) =>
  ({ kind: "figure", key, quantity, value: null, doubt_kwh: null, grown: 0, since_m: 0, due_m: null, age_ms: 0 });
