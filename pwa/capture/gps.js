// @ts-check
/**
 * Watches the position while a run is recorded. Fixes reach only a visible page: every stretch
 * without them is told as a gap with its cause. The watch is set anew when the page shows again,
 * because some platforms leave a dead one behind.
 */

/** @typedef {import("./store.js").Fix} Fix */
/**
 * @typedef {object} GpsState
 * @property {"off" | "waiting" | "good" | "poor" | "lost" | "denied"} quality
 * @property {Fix | null} fix the latest
 * @property {boolean} unstored fixes pile up in memory because the storage takes none
 */
/** @typedef {{ from_ms: number, to_ms: number, cause: string }} Gap */

export const GAP_MS = 5000;
const POOR_ACCURACY_M = 20;
const FRESH_ENOUGH_MS = 5000;
const FLUSH_MS = 1000;
const MOST_UNSTORED = 50;

/**
 * @param {object} parts
 * @param {Geolocation | undefined} parts.geolocation
 * @param {() => import("./clock.js").Stamp} parts.stamp
 * @param {(fixes: Fix[]) => Promise<void>} parts.keep stores a small batch
 * @param {(gap: Gap) => void} parts.onGap
 * @param {(fix: Fix) => void} parts.onFix
 * @param {() => void} parts.onChange
 * @param {(run: () => void, ms: number) => number} parts.later
 */
export function createGps({ geolocation, stamp, keep, onGap, onFix, onChange, later }) {
  let watch = /** @type {number | null} */ (null);
  let recording = false;
  /** @type {Fix | null} */
  let last = null;
  let cause = "";
  let error = "";
  /** @type {Fix[]} */
  let batch = [];
  let flushing = /** @type {Promise<void> | null} */ (null);
  let planned = false;

  function planFlush() {
    if (planned) return;
    planned = true;
    later(() => {
      planned = false;
      void flush();
    }, FLUSH_MS);
  }

  async function flush() {
    while (flushing) await flushing;
    if (!batch.length) return;
    const fixes = batch;
    batch = [];
    flushing = keep(fixes).catch(() => {
      batch = fixes.concat(batch); // kept in memory in their order, tried again
      planFlush();
    });
    await flushing;
    flushing = null;
  }

  /** @param {GeolocationPosition} position */
  function take({ coords, timestamp }) {
    const now = stamp();
    const fix_ms = Math.round(timestamp);
    // a browser hands the last fix out again after a reload or when the watch is set anew
    if (last && fix_ms === last.fix_ms && coords.latitude === last.lat && coords.longitude === last.lon) return;
    const age_ms = now.wall_ms - fix_ms;
    const fresh = age_ms >= 0 && age_ms <= FRESH_ENOUGH_MS;
    /** @type {Fix} */
    const fix = {
      // the platform does not say by which clock it stamps: believed only where it can be true
      t_ms: fresh ? now.t_ms - age_ms : now.t_ms,
      lat: coords.latitude, lon: coords.longitude,
      accuracy_m: coords.accuracy ?? null,
      speed_mps: known(coords.speed), heading_deg: known(coords.heading),
      altitude_m: known(coords.altitude),
      fix_ms, wall_ms: now.wall_ms, mono_ms: now.mono_ms, page: now.page,
    };
    if (recording && last && fix.t_ms - last.t_ms > GAP_MS) {
      onGap({ from_ms: last.t_ms, to_ms: fix.t_ms, cause: cause || error || "no fix came" });
    }
    last = fix;
    cause = error = "";
    if (recording) {
      onFix(fix);
      batch.push(fix);
      planFlush();
    }
    onChange();
  }

  /** @param {GeolocationPositionError} failure */
  function fail(failure) {
    error = ["", "permission denied", "position unavailable", "no fix in time"][failure.code] ?? "";
    onChange();
  }

  function arm() {
    if (!geolocation) {
      error = "no GPS in this browser";
      return;
    }
    if (watch !== null) geolocation.clearWatch(watch);
    watch = geolocation.watchPosition(take, fail, {
      enableHighAccuracy: true, maximumAge: 0, timeout: 15000,
    });
  }

  /** @returns {GpsState["quality"]} */
  function quality() {
    if (error === "permission denied" || !geolocation) return "denied";
    if (watch === null) return "off";
    if (!last) return "waiting";
    if (stamp().t_ms - last.t_ms > GAP_MS) return "lost";
    return (last.accuracy_m ?? Infinity) > POOR_ACCURACY_M ? "poor" : "good";
  }

  return {
    /**
     * Watch, and from now on record.
     * @param {Fix | null} lastStored the last one of this session, when it goes on after a reload
     */
    record(lastStored) {
      recording = true;
      if (lastStored) {
        last = lastStored;
        cause = "the page was closed or reloaded";
      }
      arm();
    },
    /** Watch without recording, for the state and for where a tick was made. */
    look: arm,
    async stop() {
      if (watch !== null) geolocation?.clearWatch(watch);
      watch = null;
      recording = false;
      await flush();
    },
    hidden() {
      cause = "the page was hidden";
      void flush();
    },
    shown() {
      if (watch !== null) arm();
    },
    flush,
    /** @returns {GpsState} */
    state: () => ({ quality: quality(), fix: last, unstored: batch.length > MOST_UNSTORED }),
  };
}

/** @typedef {ReturnType<typeof createGps>} Gps */

/** @param {number | null | undefined} x null and NaN are 'not known'; 0 is a value */
const known = (x) => (x === null || x === undefined || Number.isNaN(x) ? null : x);
