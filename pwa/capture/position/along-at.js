// @ts-check
/** Where the running distance stood at any earlier moment of the recording. */
import { placeOn } from "./odometer.js";

/** @typedef {import("../storage/rows").ChunkRow} ChunkRow */

/** As long before the first fix the car may have been anywhere. */
const LONG_BEFORE_MS = 60000;

/**
 * @param {(t_ms: number) => number | null} sinceLoad what this page has seen itself
 * @param {() => Promise<ChunkRow[]>} chunks the stored track, in order
 * @param {number} opened_ms when this page began
 * @returns {(t_ms: number) => number | null} null while the stored track is read (ask again), and
 *   for a moment long before it begins, which only another phone or the desk can tell of
 */
export function createAlongAt(sinceLoad, chunks, opened_ms) {
  /** @type {Map<number, number | null>} */
  const found = new Map();

  /** @param {number} t_ms */
  async function look(t_ms) {
    found.set(t_ms, null);
    const path = pathOf(await chunks());
    const begun_ms = path[0]?.t_ms ?? opened_ms;
    found.set(t_ms, placeOn(path, t_ms) ?? (t_ms < begun_ms - LONG_BEFORE_MS ? null : 0));
  }

  return (t_ms) => {
    const seen_m = sinceLoad(t_ms);
    if (seen_m !== null) return seen_m;
    if (!found.has(t_ms)) look(t_ms).catch(() => found.delete(t_ms));
    return found.get(t_ms) ?? null;
  };
}

/** @param {ChunkRow[]} chunks seconds apart, so that their ends are near enough */
function pathOf(chunks) {
  const ends = chunks.map(({ columns, along_m }) => ({ t_ms: columns.t_ms?.at(-1) ?? 0, along_m }));
  return chunks[0] ? [{ t_ms: chunks[0].columns.t_ms?.[0] ?? 0, along_m: 0 }, ...ends] : [];
}
