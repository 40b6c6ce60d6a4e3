// @ts-check
/**
 * A lap check while it is driven: what was recorded so far, and what it is worth. The figures are
 * the measuring core's as soon as the server has the laps, and the phone's own until then.
 */
import { COVERAGE_95 } from "../../shared/measures.js";
import { lapVerdict, tripVerdict } from "./lap-verdict.js";
import { plainness, startLaps } from "./laps.js";
import { tripRatio } from "./trip-meter.js";

/** @typedef {import("../storage/rows").Fix} Fix */
/** @typedef {import("../../shared/measures.js").Quantity} Quantity */
/** @typedef {import("./types").LapCheck} LapCheck */
/** @typedef {import("./types").LapLine} LapLine */
/** @typedef {import("./types").Figures} Figures */

const HALF_WIDTH_M = 20;
const ROLLING_MPS = 3;
/** What is older has been stored, and by a phone with nothing unsent it has been sent. */
const SETTLED_MS = 3000;
/** @type {import("./types").Known} */
const NOTHING = { laps: 0, trip: 0 };

/**
 * @param {object} parts
 * @param {Record<string, any>} parts.course of the set-up
 * @param {Fix[]} parts.fixes recorded earlier
 * @param {() => import("../storage/rows").RecordRow[]} parts.standing
 */
export function startLapCheck({ course, fixes, standing }) {
  /** @type {import("../setup/types").Gate | null} */
  let gate = course.gate ?? null;
  let laps = gate ? replay(gate) : null;
  /** @type {Figures | null} */
  let measured = null;
  /** what this phone had worked out of what the core has measured; it may leave out some of it */
  let had = NOTHING;
  let deskOnly = false;

  /** @param {import("../setup/types").Gate} line */
  function replay(line) {
    const fresh = startLaps(line);
    fixes.forEach(fresh.add);
    return fresh;
  }

  /** @returns {Figures} */
  function own() {
    const mean = laps?.mean(course.surveyed_lap_m ?? null) ?? null;
    return {
      laps: (laps?.laps(course.surveyed_lap_m ?? null) ?? []).map(({ length_m, sd_m, plain, why }) =>
        ({ length_m, half_m: COVERAGE_95 * sd_m, plain, why })),
      mean: mean && { length_m: mean.length_m, half_m: COVERAGE_95 * mean.sd_m, laps: mean.laps },
      trip: tripRatio(fixes, standing()),
      provisional: true,
    };
  }

  function figures(mine = own()) {
    if (!measured || noneWhole(mine)) return mine;
    const hasLaps = Math.max(had.laps, measured.laps.length) >= mine.laps.length;
    // the trip meter's figures say nothing of the laps: those stand until the core has newer ones
    return hasLaps ? { ...measured, trip: measured.trip ?? mine.trip } : mine;
  }

  /** The core left out every lap, this phone didn't: better a provisional figure than none. */
  const noneWhole = (/** @type {Figures} */ mine) => measured?.mean === null && mine.mean !== null;

  /** @param {import("./types").Known} known whether the core could learn something of that */
  const isNews = (known) => !measured || known.laps > had.laps || known.trip > had.trip;

  /** @param {Figures} mine */
  function coreHasWhat(mine) {
    if (deskOnly) return "the desk shows the measuring core's.";
    if (noneWhole(mine)) return "the server found no whole lap in these positions. Drive another.";
    return "the server's follow with a network.";
  }

  /** @type {LapCheck} */
  const check = {
    add(fix) {
      fixes.push(fix);
      laps?.add(fix);
    },
    setLine() {
      const here = fixes.at(-1);
      if (!here || here.heading_deg === null || !((here.speed_mps ?? 0) >= ROLLING_MPS)) return null;
      gate = { lat: here.lat, lon: here.lon, heading_deg: here.heading_deg, half_width_m: HALF_WIDTH_M };
      measured = null;
      had = NOTHING;
      laps = replay(gate);
      return gate;
    },
    hasLine: () => gate !== null,
    crossed: () => laps?.crossed() ?? 0,
    running_m: () => laps?.running_m() ?? 0,
    figures: () => figures(),
    wantsServer(known) {
      if (deskOnly) return false;
      const mine = own();
      return mine.laps.length > 0 && isNews(known);
    },
    known(now_ms) {
      const isSettled = (/** @type {number} */ t_ms) => t_ms <= now_ms - SETTLED_MS;
      const figures = standing().filter((row) => row.doc.quantity === "trip_distance" && isSettled(row.doc.t_ms));
      return {
        laps: laps?.laps(null).filter((lap) => isSettled(lap.to_ms)).length ?? 0,
        trip: own().trip === null ? 0 : figures.length,
      };
    },
    take(result, known) {
      measured = figuresOf(result);
      had = known;
    },
    leaveToDesk() {
      deskOnly = true;
    },
    source() {
      const mine = own();
      const { laps, provisional } = figures(mine);
      const leaves = mine.laps.length - laps.length;
      if (!laps.length && !leaves) return "";
      if (!provisional) {
        const without = leaves > 0 ? ` It leaves out ${leaves} of this phone's laps: too few positions there.` : "";
        return `From the server's measuring core; intervals of 95\u00a0%.${without}`;
      }
      return `Provisional: this phone's own figures; ${coreHasWhat(mine)}`;
    },
    verdict() {
      const { mean } = figures();
      return mean && lapVerdict({
        ...mean, surveyed_m: course.surveyed_lap_m ?? null, surveyed_sd_m: course.surveyed_lap_sd_m ?? null,
      });
    },
    tripWords() {
      const { trip } = figures();
      return trip ? tripVerdict(trip) : "";
    },
  };
  return check;
}

/** @param {any} result document of the server @returns {Figures} */
export function figuresOf(result) {
  /** @type {Quantity[]} */
  const lengths = (result.laps ?? []).map((/** @type {any} */ lap) => lap.length_m).filter(Boolean);
  const usual_m = result.lap_check?.surveyed_m ?? middle(lengths);
  const laps = lengths.map(({ value, low, high }) =>
    ({ length_m: value, half_m: (high - low) / 2, ...plainness(value, usual_m) }));
  const plain = laps.filter((lap) => lap.plain);
  return { laps, mean: meanOf(plain, result.lap_check), trip: result.trip_check?.ratio ?? null, provisional: false };
}

/**
 * @param {LapLine[]} plain
 * @param {{ measured_m: Quantity, agrees: boolean } | null} check
 */
function meanOf(plain, check) {
  if (!plain.length) return null;
  if (check) {
    const { value, low, high } = check.measured_m;
    return { length_m: value, half_m: (high - low) / 2, laps: plain.length, agrees: check.agrees };
  }
  // without a survey the core gives no mean; as if the laps' errors were independent
  const mean = (/** @type {(lap: LapLine) => number} */ of) => plain.reduce((sum, lap) => sum + of(lap), 0) / plain.length;
  return {
    length_m: mean((lap) => lap.length_m),
    half_m: Math.sqrt(mean((lap) => lap.half_m ** 2) / plain.length), laps: plain.length,
  };
}

/** @param {Quantity[]} lengths */
function middle(lengths) {
  const sorted = lengths.map(({ value }) => value).sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)] ?? NaN;
}
