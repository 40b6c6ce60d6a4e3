// @ts-check
/**
 * Laps on the phone, for a first look at the track: the start line's crossings, and the Doppler
 * speed integrated between them. Simpler than the server's measuring core and more cautious; what
 * is shown from here is marked provisional. Pure.
 */
import { step_m } from "../position/odometer.js";

/** @typedef {import("../storage/rows").Fix} Fix */
/** @typedef {import("../setup/types").Gate} Gate */
/** @typedef {import("./types").Crossing} Crossing */
/** @typedef {import("./types").Lap} Lap */
/** @typedef {import("./types").MeanLap} MeanLap */

const METRES_PER_DEGREE = 111195; // of a great circle on a sphere of 6371 km: finds a line, no more
const LONGEST_LEG_MS = 5000;
const SHORTEST_LAP_M = 100;
/** As on the server: a lap further off the usual length isn't a plain one. */
const WHOLE_LAP = 0.03;
/** W3C Geolocation: accuracy is the radius of 95 %; on one axis √(-2 ln 0.05) = 2.448 sd. */
const RADIUS_TO_SD = 1 / 2.447747;
const UNKNOWN_ACCURACY_M = 20;
/** White noise of a phone's Doppler speed: common practice, no source. */
const SPEED_SD_MPS = 0.1;
/** As on the server: what the model doesn't know, with Doppler speeds and without. */
const SCALE_SD = { doppler: 0.0003, plain: 0.0015 };

/** @param {Fix} fix @param {Gate} gate @returns {{ ahead_m: number, beside_m: number }} */
function seenFrom({ lat, lon }, gate) {
  const north_m = (lat - gate.lat) * METRES_PER_DEGREE;
  const east_m = (lon - gate.lon) * METRES_PER_DEGREE * Math.cos((gate.lat * Math.PI) / 180);
  const heading = (gate.heading_deg * Math.PI) / 180;
  return {
    ahead_m: north_m * Math.cos(heading) + east_m * Math.sin(heading),
    beside_m: east_m * Math.cos(heading) - north_m * Math.sin(heading),
  };
}

/** @param {Gate} gate */
export function startLaps(gate) {
  /** @type {Crossing[]} */
  const crossings = [];
  /** @type {{ noise_m2: number, doppler: boolean, gap: boolean }[]} of the lap that each begins */
  const drives = [];
  /** @type {Fix | null} */
  let last = null;
  let along_m = 0;
  let hasComeIn = false;

  /** @param {Fix} fix */
  function add(fix) {
    const before = last;
    last = fix;
    if (!before || fix.t_ms <= before.t_ms) return;
    const leg_m = step_m(before, fix);
    const leg_ms = fix.t_ms - before.t_ms;
    const share = leg_ms <= LONGEST_LEG_MS ? crossingShare(before, fix) : null;
    const so_far_m = along_m - (crossings.at(-1)?.along_m ?? -Infinity);
    if (share !== null && so_far_m + leg_m > SHORTEST_LAP_M) {
      crossings.push({
        t_ms: before.t_ms + share * leg_ms, along_m: along_m + share * leg_m,
        sd_m: (fix.accuracy_m ?? UNKNOWN_ACCURACY_M) * RADIUS_TO_SD,
      });
      drives.push({ noise_m2: 0, doppler: true, gap: false });
    }
    const drive = drives.at(-1);
    if (drive) {
      drive.noise_m2 += (SPEED_SD_MPS * leg_ms / 1000) ** 2;
      drive.doppler &&= before.speed_mps !== null && fix.speed_mps !== null;
      drive.gap ||= leg_ms > LONGEST_LEG_MS;
    }
    along_m += leg_m;
    hasComeIn = crossings.length > 0;
  }

  /** @param {Fix} from @param {Fix} to @returns {number | null} how much of the leg lies before the line */
  function crossingShare(from, to) {
    const [a, b] = [seenFrom(from, gate), seenFrom(to, gate)];
    if (!(a.ahead_m < 0 && b.ahead_m >= 0)) return null;
    const share = -a.ahead_m / (b.ahead_m - a.ahead_m);
    const beside_m = a.beside_m + share * (b.beside_m - a.beside_m);
    return Math.abs(beside_m) <= gate.half_width_m ? share : null;
  }

  /** @param {number | null} surveyed_m @returns {Lap[]} */
  function laps(surveyed_m) {
    const lengths = crossings.slice(1).map((to, i) => to.along_m - (crossings[i]?.along_m ?? 0));
    const usual_m = surveyed_m ?? median(lengths);
    return lengths.map((length_m, i) => {
      const [from, to, drive] = [crossings[i], crossings[i + 1], drives[i]];
      if (!from || !to || !drive) throw new RangeError(`no lap ${i + 1}`);
      return {
        from_ms: from.t_ms, to_ms: to.t_ms, length_m,
        sd_m: Math.hypot(from.sd_m, to.sd_m, Math.sqrt(drive.noise_m2), scale(drive.doppler) * length_m),
        ...plainness(length_m, usual_m, drive.gap),
      };
    });
  }

  /**
   * The mean of the plain laps. Successive ones share a crossing, whose error cancels in their
   * sum, so that the doubt falls faster than with the root of their number.
   * @param {number | null} surveyed_m @returns {MeanLap | null}
   */
  function mean(surveyed_m) {
    const all = laps(surveyed_m);
    const weights = crossings.map(() => 0);
    let [n, sum_m, noise_m2, doppler] = [0, 0, 0, true];
    all.forEach((lap, i) => {
      if (!lap.plain) return;
      n += 1;
      sum_m += lap.length_m;
      noise_m2 += drives[i]?.noise_m2 ?? 0;
      doppler &&= drives[i]?.doppler ?? false;
      weights[i] = (weights[i] ?? 0) - 1;
      weights[i + 1] = (weights[i + 1] ?? 0) + 1;
    });
    if (!n) return null;
    const placed_m2 = crossings.reduce((sum, { sd_m }, i) => sum + ((weights[i] ?? 0) * sd_m) ** 2, 0);
    const length_m = sum_m / n;
    const sd_m = Math.hypot(Math.sqrt(placed_m2 + noise_m2) / n, scale(doppler) * length_m);
    return { length_m, sd_m, laps: n };
  }

  return {
    add, laps, mean,
    /** @returns {number} driven since the line was last crossed; 0 before the first time */
    running_m: () => (hasComeIn ? along_m - (crossings.at(-1)?.along_m ?? 0) : 0),
    crossed: () => crossings.length,
  };
}

/** @typedef {ReturnType<typeof startLaps>} Laps */

/**
 * @param {number} length_m @param {number} usual_m @param {boolean} [hasGap]
 * @returns {{ plain: boolean, why: import("./types").LeftOut }}
 */
export function plainness(length_m, usual_m, hasGap = false) {
  const off = length_m / usual_m - 1;
  const why = hasGap ? "gap" : Math.abs(off) <= WHOLE_LAP ? "" : off > 0 ? "too long" : "too short";
  return { plain: why === "", why };
}

/** @param {boolean} doppler */
const scale = (doppler) => (doppler ? SCALE_SD.doppler : SCALE_SD.plain);

/** @param {number[]} values */
function median(values) {
  const sorted = [...values].sort((a, b) => a - b);
  const half = Math.floor(sorted.length / 2);
  return sorted.length % 2 ? (sorted[half] ?? NaN) : ((sorted[half - 1] ?? NaN) + (sorted[half] ?? NaN)) / 2;
}
