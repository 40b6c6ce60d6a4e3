// @ts-check
/** A session's set-up: made from the form, started from last time's. Pure. */
import { FACTS, factsOf, lasts, withFacts } from "../../shared/facts.js";

/** @typedef {import("./types").SetupValues} SetupValues */
/** @typedef {"run" | "lap_check"} Purpose  what the session is for */

/** @type {SetupValues} */
const USUAL = {
  title: "", vehicle: "", course: "", surveyed_lap_m: null, surveyed_lap_sd_m: null,
  use_checked_lap: true, start_soc_pct: 5, band_low_kmh: 50, band_high_kmh: 90, facts: {},
};

/**
 * Everything as last time but what is new each time: the title, the weather, and how the car is
 * that day.
 * @param {Partial<SetupValues> | null} last what was filled in last time
 * @param {import("./cars.js").KnownCar[]} cars
 * @param {Date} now @param {Purpose} purpose
 * @returns {SetupValues}
 */
export function startingValues(last, cars, now, purpose) {
  const day = now.toLocaleDateString(undefined, { day: "numeric", month: "short" });
  const time = `${String(now.getHours()).padStart(2, "0")}:${String(now.getMinutes()).padStart(2, "0")}`;
  const title = `${purpose === "lap_check" ? "Lap check" : "Run"} ${day}, ${time}`;
  const car = cars.find(({ label }) => label === last?.vehicle);
  const kept = Object.entries(last?.facts ?? {}).filter(([path]) => FACTS[path]?.of === "day" && lasts(FACTS[path]));
  return { ...USUAL, ...last, title, use_checked_lap: true, facts: { ...Object.fromEntries(kept), ...car?.facts } };
}

/**
 * @param {SetupValues} values
 * @param {{
 *   id: string, device: string, now: Date, timeZone: string, purpose: Purpose,
 *   courses: import("./types").Courses,
 * }} context
 * @returns {Record<string, any>}
 */
export function makeSetup(values, { id, device, now, timeZone, purpose, courses }) {
  const session = { id, started_at: withOffset(now), time_zone: timeZone, notes: null };
  return editSetup({
    session: purpose === "lap_check" ? { ...session, purpose } : session,
    vehicle: {}, conditions: {},
    protocol: {},
    course: { closed: true },
    devices: [deviceEntry(device)],
  }, values, courses);
}

/**
 * The same set-up with what the form says; what the form doesn't know stays as it is.
 * @param {Record<string, any>} setup @param {SetupValues} values
 * @param {import("./types").Courses} courses
 * @returns {Record<string, any>}
 */
export function editSetup(setup, values, courses) {
  const { band_low_kmh: low, band_high_kmh: high } = values;
  const { gate, checked_lap, ...elsewhere } = setup.course ?? {};
  /** @type {Partial<import("./types").Course>} */
  const known = courses[values.course] ?? {};
  const here = elsewhere.label === undefined || elsewhere.label === values.course;
  const [line, lap] = [(here && gate) || known.gate, (here && checked_lap) || known.checked_lap];
  return withFacts({
    ...setup,
    session: { ...setup.session, title: values.title },
    vehicle: { ...setup.vehicle, label: values.vehicle },
    conditions: { ...setup.conditions },
    protocol: {
      ...setup.protocol, start_soc_pct: values.start_soc_pct,
      speed_band_kmh: low === null || high === null ? null : [low, high],
    },
    course: {
      ...elsewhere, label: values.course,
      surveyed_lap_m: values.surveyed_lap_m, surveyed_lap_sd_m: values.surveyed_lap_sd_m,
      ...(line ? { gate: line } : {}),
      ...(lap && values.use_checked_lap ? { checked_lap: lap } : {}),
    },
  }, values.facts);
}

/** @param {Record<string, any>} setup @returns {SetupValues} as the form shows it */
export function valuesOf(setup) {
  const { session, vehicle, protocol, course } = setup;
  const [low, high] = protocol?.speed_band_kmh ?? [null, null];
  return {
    title: session?.title ?? "", vehicle: vehicle?.label ?? "",
    course: course?.label ?? "", surveyed_lap_m: course?.surveyed_lap_m ?? null,
    surveyed_lap_sd_m: course?.surveyed_lap_sd_m ?? null,
    use_checked_lap: Boolean(course?.checked_lap), start_soc_pct: protocol?.start_soc_pct ?? null,
    band_low_kmh: low, band_high_kmh: high, facts: factsOf(setup),
  };
}

/** @param {Record<string, any>} setup @returns {Purpose} */
export const purposeOf = (setup) => (setup.session?.purpose === "lap_check" ? "lap_check" : "run");

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
