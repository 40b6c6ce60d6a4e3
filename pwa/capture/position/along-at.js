// @ts-check
/** Where the running distance stood at any earlier moment of the recording. */
import { placeOn } from "./odometer.js";

/** @typedef {import("../storage/rows").ChunkRow} ChunkRow */

/**
 * @param {(t_ms: number) => number | null} sinceLoad what this page has seen itself
 * @param {() => Promise<ChunkRow[]>} chunks the stored track, in order
 * @returns {(t_ms: number) => number | null} null while the stored track is read: ask again
 */
export function createAlongAt(sinceLoad, chunks) {
  /** @type {Map<number, number | null>} */
  const found = new Map();

  /** @param {number} t_ms */
  async function look(t_ms) {
    found.set(t_ms, null);
    found.set(t_ms, placeOn(pathOf(await chunks()), t_ms) ?? 0); // before the first fix it is 0
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
  return [{ t_ms: chunks[0]?.columns.t_ms?.[0] ?? 0, along_m: 0 }, ...ends];
}
