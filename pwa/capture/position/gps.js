// @ts-check
/**
 * Watches the position while a run is recorded. Fixes reach only a visible page: every stretch
 * without them is told as a gap with its cause. The watch is set anew when the page shows again,
 * because some platforms leave a dead one behind.
 */

/** @typedef {import("../storage/rows").Fix} Fix */
/** @typedef {import("./types").Gps} Gps */
/** @typedef {import("./types").GpsState} GpsState */

export const GAP_MS = 5000;
/** Why there was no position since: somebody stopped the recording. */
export const ENDED = "the recording was ended";
const POOR_ACCURACY_M = 20;
const FRESH_ENOUGH_MS = 5000;
const FLUSH_MS = 1000;
const MOST_UNSTORED = 50;
const MOST_AT_ONCE = 500;
const BEAT_MS = 1000;
const STOOD_STILL_MS = 3000;

/** @param {import("./types").GpsParts} parts */
export function createGps({ geolocation, stamp, keep, onGap, onFix, onChange, remember = () => {}, later }) {
  let watch = /** @type {number | null} */ (null);
  let recording = false;
  let stopped = false;
  let begun_ms = 0;
  /** @type {Fix | null} */
  let last = null;
  let cause = "";
  let error = "";
  let cover = "";
  /** @type {Fix[]} */
  let batch = [];
  let flushing = /** @type {Promise<void> | null} */ (null);
  let planned = false;
  let beat_ms = Infinity;

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
    while (batch.length) {
      const fixes = batch.slice(0, MOST_AT_ONCE);
      let stored = true;
      flushing = keep(fixes).catch(() => {
        stored = false; // kept in memory in their order, tried again
      });
      await flushing;
      flushing = null;
      if (!stored) return planFlush();
      batch = batch.slice(fixes.length);
    }
  }

  /** A page whose timers stood still got no fixes either, whatever the platform calls it. */
  function beat() {
    if (!recording) return;
    const now_ms = stamp().wall_ms;
    if (now_ms - beat_ms > BEAT_MS + STOOD_STILL_MS) cause ||= "the page was not running";
    beat_ms = now_ms;
    later(beat, BEAT_MS);
  }

  function go() {
    recording = true;
    arm();
    beat_ms = stamp().wall_ms;
    later(beat, BEAT_MS);
  }

  /** @param {string} why @param {number} to_ms */
  function tellGap(why, to_ms) {
    const from_ms = last?.t_ms ?? begun_ms;
    if (recording && to_ms - from_ms > GAP_MS) onGap({ from_ms, to_ms, cause: why });
  }

  const why = () => cover || cause || error || (last ? "no position came" : "no first position yet");

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
    tellGap(why(), fix.t_ms);
    last = fix;
    if (cause) remember("");
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
    error = ["", "permission denied", "position unavailable", "no position in time"][failure.code] ?? "";
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
    const age_ms = stamp().t_ms - last.t_ms;
    if (age_ms < -GAP_MS) return "waiting"; // of a page before the clock was set back
    if (age_ms > GAP_MS) return "lost";
    return (last.accuracy_m ?? Infinity) > POOR_ACCURACY_M ? "poor" : "good";
  }

  /** @type {Gps} */
  const gps = {
    record(lastStored, left = "") {
      begun_ms = stamp().t_ms;
      if (lastStored) {
        last = lastStored;
        cause = !left ? "the page was closed or reloaded" : left === ENDED ? left : `${left}, then it was closed`;
      }
      go();
    },
    resume() {
      if (stopped) go();
    },
    async stop() {
      if (watch !== null) geolocation?.clearWatch(watch);
      watch = null;
      stopped = recording;
      tellGap(why(), stamp().t_ms);
      recording = false;
      await flush();
    },
    pending: () => batch,
    covered(what) {
      cover = what;
    },
    uncovered() {
      if (cover) cause = cover;
      cover = "";
    },
    hidden() {
      cause = cover || "the page was hidden";
      remember(cause);
      void flush();
    },
    shown() {
      if (watch !== null) arm();
    },
    again() {
      if (watch === null) return;
      error = "";
      arm();
      onChange();
    },
    flush,
    state: () => ({
      quality: quality(), fix: last, unstored: batch.length > MOST_UNSTORED, cause: cover || cause || error,
    }),
  };
  return gps;
}

/** @param {number | null | undefined} x null and NaN are 'not known'; 0 is a value */
const known = (x) => (x === null || x === undefined || Number.isNaN(x) ? null : x);
