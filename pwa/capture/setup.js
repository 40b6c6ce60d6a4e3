// @ts-check
/** A session's set-up: made from the form, started from last time's. Pure. */

/** @typedef {import("./view-setup.js").SetupValues} SetupValues */

/** How late a passenger taps what the display shows, until measured: common practice, no source. */
const USUAL_TAP_DELAY = { mean: 0.9, sd: 0.4 };

/**
 * @param {SetupValues | null} last what was filled in last time
 * @param {Date} now
 * @returns {SetupValues}
 */
export function startingValues(last, now) {
  const title = `Run ${now.toLocaleDateString(undefined, { day: "numeric", month: "short" })}, ${String(now.getHours()).padStart(2, "0")}:${String(now.getMinutes()).padStart(2, "0")}`;
  const usual = {
    vehicle: "", usable_kwh: null, course: "", surveyed_lap_m: null,
    start_soc_pct: 5, band_low_kmh: 50, band_high_kmh: 90,
  };
  return { ...usual, ...last, title };
}

/**
 * @param {SetupValues} values
 * @param {{ id: string, device: string, now: Date, timeZone: string }} context
 * @returns {Record<string, any>}
 */
export function makeSetup(values, { id, device, now, timeZone }) {
  const { band_low_kmh: low, band_high_kmh: high } = values;
  return {
    session: { id, title: values.title, started_at: withOffset(now), time_zone: timeZone, notes: null },
    vehicle: { label: values.vehicle, pack: { usable_kwh: values.usable_kwh } },
    conditions: {},
    protocol: {
      start_soc_pct: values.start_soc_pct,
      speed_band_kmh: low === null || high === null ? null : [low, high],
      tap_delay_s: USUAL_TAP_DELAY,
    },
    course: { label: values.course, surveyed_lap_m: values.surveyed_lap_m, closed: true },
    devices: [deviceEntry(device)],
  };
}

/** @param {string} device */
export const deviceEntry = (device) => ({ id: device, label: `Phone ${device.slice(-4)}` });

/** @param {Record<string, any>} setup @param {string} device @returns {Record<string, any>} */
export function withDevice(setup, device) {
  const devices = setup.devices ?? [];
  if (devices.some((/** @type {any} */ one) => one.id === device)) return setup;
  return { ...setup, devices: [...devices, deviceEntry(device)] };
}

/** @param {Record<string, any>} setup @returns {string} car and course in one line */
export const aboutSetup = (setup) =>
  [setup.vehicle?.label, setup.course?.label].filter(Boolean).join(" · ") || "no car or course named";

/** @param {Date} date @returns {string} RFC 3339 with the local offset */
export function withOffset(date) {
  const offset_min = -date.getTimezoneOffset();
  const local = new Date(date.getTime() + offset_min * 60000).toISOString().slice(0, 19);
  const two = (/** @type {number} */ n) => String(Math.floor(n)).padStart(2, "0");
  const size = Math.abs(offset_min);
  return `${local}${offset_min < 0 ? "-" : "+"}${two(size / 60)}:${two(size % 60)}`;
}
