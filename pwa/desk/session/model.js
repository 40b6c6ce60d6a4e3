// @ts-check
/** One session as the page shows it: evidence, result and curves brought together. */
import { ApiError, request } from "../../shared/api.js";
import { asReported, chains } from "../../shared/rules.js";
import { usualResolution } from "../../shared/vocabulary.js";
import { FIRST_POINTS } from "./ahead.js";
import { clockOffsets, sessionClock } from "./clock.js";
import { valueAt } from "./curves.js";
import { isSound, spokenIn } from "./spoken.js";
import { noCurves, noResult } from "./without-result.js";

/** @typedef {import("./documents").RawEvent} RawEvent */
/** @typedef {import("./documents").RawReading} RawReading */
/** @typedef {import("./documents").TimelineEntry} TimelineEntry */

/**
 * @typedef {object} EventRow
 * @property {RawEvent} record under the kind that it counts as
 * @property {RawEvent[]} earlier newest first
 * @property {boolean} withdrawn
 * @property {TimelineEntry | null} entry what the result says of it
 * @property {number} atMs estimated true moment, else the tap in session time
 */
/**
 * @typedef {object} ReadingRow
 * @property {RawReading} record
 * @property {RawReading[]} earlier
 * @property {boolean} withdrawn
 * @property {number} atMs session time
 */
/**
 * @typedef {object} Model
 * @property {string} id
 * @property {import("./documents").SessionDocument} session its photos without what is heard
 * @property {import("./spoken.js").Spoken[]} spoken in order of time
 * @property {import("./documents").ResultDocument} result
 * @property {boolean} failed the figures can't be worked out; its one finding says why
 * @property {import("./documents").CurvesDocument} curves
 * @property {import("./clock.js").SessionClock} clock
 * @property {EventRow[]} events in order of time
 * @property {ReadingRow[]} readings in order of time
 */

const ALL_POINTS = 200_000;
const UNWORKABLE = 422; // the server's answer where the evidence allows no analysis

/**
 * Everything of one session, fetched anew.
 * @param {string} id
 * @param {import("./ahead.js").Ahead} asked
 * @param {(early: Omit<Model, "curves">) => void} onResult called as soon as the figures are
 *   there: they need not wait for the curves
 * @returns {Promise<Model>} of a long run only every nth point: see {@link everyPoint}
 * @throws {import("../../shared/api.js").ApiError}
 */
export async function loadModel(id, asked, onResult) {
  const session = await asked.session;
  const result = await asked.result.catch((error) => {
    if (error instanceof ApiError && error.status === UNWORKABLE) return noResult(error.message, session.revision);
    throw error;
  });
  const early = arrange(id, session, result);
  onResult(early);
  return { ...early, curves: early.failed ? noCurves() : await asked.curves };
}

/**
 * The model with every point of its curves, when the first picture had to do with fewer.
 * @param {Model} model
 * @returns {Promise<Model | null>} null when nothing is missing
 * @throws {import("../../shared/api.js").ApiError}
 */
export async function everyPoint(model) {
  if (model.curves.t_ms.length < FIRST_POINTS) return null;
  const path = `/sessions/${encodeURIComponent(model.id)}/curves?max_points=${ALL_POINTS}`;
  return { ...model, curves: await request(path, { timeoutMs: 120_000 }) };
}

/**
 * @param {string} id
 * @param {import("./documents").SessionDocument} session
 * @param {import("./documents").ResultDocument} result
 * @returns {Omit<Model, "curves">}
 */
function arrange(id, session, result) {
  const offset = clockOffsets(session);
  const entries = new Map(result.timeline.map((entry) => [entry.event_id, entry]));
  const events = chains(session.events.map(asReported)).map((chain) => {
    const entry = entries.get(chain.record.id)
      ?? chain.earlier.map(({ id: earlierId }) => entries.get(earlierId)).find(Boolean) ?? null;
    const { t_ms: tMs, device } = chain.withdrawn ? (chain.earlier.at(-1) ?? chain.record) : chain.record;
    return { ...chain, entry: chain.withdrawn ? null : entry, atMs: entry?.at_ms.value ?? tMs + offset(device) };
  });
  const readings = chains(session.readings).map((chain) => {
    const { t_ms: tMs, device } = chain.withdrawn ? (chain.earlier.at(-1) ?? chain.record) : chain.record;
    return { ...chain, atMs: tMs + offset(device) };
  });
  const start = session.setup.session ?? {};
  return {
    id, result,
    session: { ...session, photos: session.photos.filter((photo) => !isSound(photo)) },
    spoken: spokenIn(id, session.photos, offset),
    failed: result.findings.some(({ code }) => code === "analysis_failed"),
    clock: sessionClock(start.time_zone, start.started_at),
    events: events.sort((a, b) => a.atMs - b.atMs),
    readings: readings.sort((a, b) => a.atMs - b.atMs),
  };
}

/**
 * Displayed % over time, from readings and taps alike.
 * @param {Omit<Model, "curves">} model
 * @returns {{ atMs: number, soc: number }[]} in order
 */
export function displayedSoc(model) {
  const fromReadings = model.readings
    .filter(({ record, withdrawn }) => record.quantity === "soc" && !withdrawn && record.value !== null)
    .map(({ record, atMs }) => ({ atMs, soc: Number(record.value) }));
  const fromEvents = model.events.flatMap(({ record, withdrawn, atMs }) => {
    if (withdrawn) return [];
    if (record.kind === "zero_soc") return [{ atMs, soc: 0 }];
    return record.kind === "soc_step" && typeof record.value === "number"
      ? [{ atMs, soc: record.value }] : [];
  });
  return [...fromReadings, ...fromEvents].sort((a, b) => a.atMs - b.atMs);
}

/**
 * The bounds a display leaves for the truth.
 * @param {RawReading} record with a value
 * @returns {{ value: number, low: number, high: number }} in the record's own unit; for rounding
 *   "down" the middle of what it can mean is still the figure shown; said roughly it is off by up to
 *   one unit of its last digit
 */
export function displayBounds(record) {
  const value = Number(record.value);
  const resolution = record.resolution ?? usualResolution(record.quantity, record.unit);
  if (record.about) return { value, low: value - resolution, high: value + resolution };
  return record.rounding === "down"
    ? { value, low: value, high: value + resolution }
    : { value, low: value - resolution / 2, high: value + resolution / 2 };
}

/**
 * Trip energy counts from the last trip reset; on the curve it counts from zero. The difference
 * is the curve's value at that reset, so without a known reset a reading has no place there.
 * @param {Model} model
 * @returns {{ atMs: number, value: number, low: number, high: number }[]} kWh past zero
 */
export function tripEnergyPastZero(model) {
  const resets = model.events.filter(({ record, withdrawn }) => record.kind === "trip_reset" && !withdrawn);
  const { t_ms: tMs, energy_past_zero_kwh: energy } = model.curves;
  return model.readings.flatMap(({ record, withdrawn, atMs }) => {
    if (withdrawn || record.quantity !== "trip_energy" || record.value === null) return [];
    const reset = resets.filter((row) => row.atMs <= atMs).at(-1);
    const base = reset && (reset.entry?.energy_past_zero_kwh?.value ?? valueAt(tMs, energy.value, reset.atMs));
    if (typeof base !== "number") return [];
    const { value, low, high } = displayBounds(record);
    return [{ atMs, value: base + value, low: base + low, high: base + high }];
  });
}

/**
 * @param {Omit<Model, "curves">} model
 * @returns {string} where there is no energy past zero: what is missing for it
 */
export function whyNoEnergy(model) {
  if (!model.result.zero.basis) return "Nothing to count from: no zero is on record.";
  const typed = model.readings.filter(({ record }) => ["trip_energy", "mean_consumption"].includes(record.quantity));
  if (typed.length === 0) return "No energy readings yet: type the display\u2019s trip energy below.";
  if (typed.every(({ withdrawn }) => withdrawn)) return "Every energy reading was taken back: type the display\u2019s trip energy below.";
  return "The readings of energy contradict each other: see the doubts, or check them below.";
}
