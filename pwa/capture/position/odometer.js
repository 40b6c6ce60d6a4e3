// @ts-check
/**
 * A running distance for the passenger's eye, not for the result: speed times time where the
 * receiver gives speed, straight lines elsewhere, standstill not counted.
 */

/** @typedef {import("../storage/rows").Fix} Fix */

const EARTH_RADIUS_M = 6371008.8; // mean radius R1, IUGG 1980
const STANDING_MPS = 0.5;
const LONGEST_STEP_MS = 5000;

/** @param {Fix} a @param {Fix} b @returns {number} great circle, metres */
function straight_m(a, b) {
  const rad = Math.PI / 180;
  const s =
    Math.sin(((b.lat - a.lat) * rad) / 2) ** 2 +
    Math.cos(a.lat * rad) * Math.cos(b.lat * rad) * Math.sin(((b.lon - a.lon) * rad) / 2) ** 2;
  return 2 * EARTH_RADIUS_M * Math.asin(Math.min(1, Math.sqrt(s)));
}

/** @param {number} start_m @param {Fix | null} lastFix where it goes on after a reload */
export function startOdometer(start_m, lastFix) {
  let along_m = start_m;
  let last = lastFix;
  /** @type {{ t_ms: number, along_m: number }[]} */
  const path = lastFix ? [{ t_ms: lastFix.t_ms, along_m }] : [];
  return {
    along_m: () => along_m,
    /** Where it stood then; null: before this page began. @param {number} t_ms */
    at: (t_ms) => placeOn(path, t_ms),
    /** @param {Fix} fix */
    add(fix) {
      if (last) along_m += step_m(last, fix);
      last = fix;
      path.push({ t_ms: fix.t_ms, along_m });
    },
  };
}

/**
 * In proportion to time between two fixes, and after the last one as it was there.
 * @param {readonly { t_ms: number, along_m: number }[]} path
 * @param {number} t_ms
 * @returns {number | null} null: before the first
 */
export function placeOn(path, t_ms) {
  const at = path.findLastIndex((place) => place.t_ms <= t_ms);
  const [before, after] = [path[at], path[at + 1]];
  if (!before || !after) return before?.along_m ?? null;
  const share = (t_ms - before.t_ms) / (after.t_ms - before.t_ms);
  return before.along_m + share * (after.along_m - before.along_m);
}

/** @param {Fix} from @param {Fix} to @returns {number} driven from one fix to the next, metres */
export function step_m(from, to) {
  const dt_ms = to.t_ms - from.t_ms;
  if (dt_ms <= 0) return 0;
  if (from.speed_mps !== null && to.speed_mps !== null && dt_ms <= LONGEST_STEP_MS) {
    const mean_mps = (from.speed_mps + to.speed_mps) / 2;
    return mean_mps < STANDING_MPS ? 0 : (mean_mps * dt_ms) / 1000;
  }
  const gone_m = straight_m(from, to);
  return gone_m < Math.max(5, to.accuracy_m ?? 0) ? 0 : gone_m;
}
