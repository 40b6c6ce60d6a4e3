// @ts-check
/** One running recording: its recorder, its GPS watch and its running distance, put together. */
import { createGps, ENDED } from "../position/gps.js";
import { createAlongAt } from "../position/along-at.js";
import { startOdometer } from "../position/odometer.js";
import { startRecorder } from "../records/recorder.js";
import { span } from "../records/words.js";
import { FIX_COLUMNS } from "../storage/store.js";

const ONTO_DISK_MS = 10000;

/** @param {import("./types").RunParts} parts */
export async function startRun({ store, row, device, clock, newId, geolocation, later, onRecord, onTrack, onPlace, onFix, onGap }) {
  const session = row.id;
  const [chunk, rows, left] = await Promise.all([
    store.lastChunk(session), store.records(session), store.meta("gps_left"),
  ]);
  const lastFix = (chunk && fixesOf(chunk).at(-1)) ?? null;
  const odometer = startOdometer(chunk?.along_m ?? 0, lastFix);
  const recorder = startRecorder({
    store, session, device, rows, newId,
    stamp: () => clock.stamp(), alongM: odometer.along_m, onChange: onRecord,
  });
  const gps = createGps({
    geolocation, later, onChange: onFix,
    stamp: () => clock.stamp(),
    keep: (fixes) => store.addFixes(session, device, fixes, odometer.along_m(), durability()).then(onTrack),
    remember: (cause) => void store.setMeta("gps_left", { session, cause }).catch(() => {}),
    onFix(fix) {
      odometer.add(fix);
      onPlace?.(fix);
    },
    onGap({ from_ms, to_ms, cause }) {
      const what = cause === ENDED ? "Nothing recorded" : "No GPS";
      const text = `${what} for ${span(to_ms - from_ms)}: ${cause}`;
      void recorder.log(text, "gps_gap", { gap: { from_ms, to_ms, cause } });
      onGap?.(text);
    },
  });
  let onDisk_ms = -Infinity;
  /** A flat battery may take the fixes of the last seconds, no more. */
  function durability() {
    const now_ms = clock.stamp().mono_ms;
    if (now_ms - onDisk_ms < ONTO_DISK_MS) return "relaxed";
    onDisk_ms = now_ms;
    return "strict";
  }
  const leftBecause = left?.session === session ? left.cause : "";
  await recorder.finishLeftovers();
  const alongAt = createAlongAt(odometer.at, () => store.chunks(session), clock.stamp().t_ms);
  return { row, recorder, gps, odometer, alongAt, lastFix, leftBecause };
}

/** @typedef {Awaited<ReturnType<typeof startRun>>} Run */

/** @param {import("../storage/rows").ChunkRow} chunk @returns {import("../storage/rows").Fix[]} */
export function fixesOf({ columns }) {
  return (columns.t_ms ?? []).map((_, i) => {
    const entries = FIX_COLUMNS.map((name) => [name, columns[name]?.[i] ?? null]);
    return /** @type {import("../storage/rows").Fix} */ (Object.fromEntries(entries));
  });
}
