// @ts-check
/** What one upload of records carries, and what the server's answer says of it. Pure. */
import { ApiError } from "../../shared/api.js";

/** @typedef {import("../storage/rows").ChunkRow} ChunkRow */
/** @typedef {import("../storage/rows").RecordRow} RecordRow */
/** @typedef {import("./types").Entry} Entry */
/** @typedef {import("./types").Settled} Settled */

/**
 * Neighbouring chunks as one entry of columns; a clock set back or a lone chunk starts another.
 * @param {ChunkRow[]} chunks in order of seq
 * @returns {Entry[]}
 */
export function joinChunks(chunks) {
  /** @type {Entry[]} */
  const entries = [];
  for (const chunk of chunks) {
    const entry = entries.at(-1);
    const before = entry?.chunks.at(-1);
    const follows =
      entry && before && before.last + 1 === chunk.first && before.device === chunk.device &&
      !before.alone && !chunk.alone && chunk.columns.t_ms?.[0] >= entry.columns.t_ms.at(-1);
    if (follows) {
      for (const [name, column] of Object.entries(chunk.columns)) entry.columns[name].push(...column);
      entry.chunks.push(chunk);
    } else {
      /** @type {Record<string, any>} */
      const columns = { device: chunk.device };
      for (const [name, column] of Object.entries(chunk.columns)) columns[name] = [...column];
      entries.push({ columns, chunks: [chunk] });
    }
  }
  return entries;
}

/** @param {string} device @param {RecordRow[]} records @param {Entry[]} entries */
export function uploadOf(device, records, entries) {
  /** @param {RecordRow["type"]} type */
  const docs = (type) => records.filter((one) => one.type === type).map((one) => one.doc);
  return {
    device, events: docs("event"), readings: docs("reading"), clock_checks: docs("clock_check"),
    breadcrumbs: entries.map((entry) => entry.columns),
  };
}

/**
 * @param {any} answer to an upload of these
 * @param {RecordRow[]} records @param {Entry[]} entries
 * @returns {Settled}
 * @throws {ApiError} the answer is not one of Ebbline's server
 */
export function settle(answer, records, entries) {
  const { held, refused, holds } = answer ?? {};
  if (!held || !Array.isArray(refused) || typeof holds?.fixes !== "number") {
    throw new ApiError("The answer did not come from Ebbline's server.", 0);
  }
  const known = new Set(records.map((one) => one.id));
  /** @type {Settled["chunks"]} */
  const changes = [];
  let fixes = 0;
  for (const chunk of entries.flatMap((entry) => entry.chunks)) {
    const ranges = (held.breadcrumbs ?? [])
      .filter((/** @type {any} */ one) => one.device === chunk.device)
      .flatMap((/** @type {any} */ one) => one.ranges);
    if (ranges.some((/** @type {[number, number]} */ [first, last]) => first <= chunk.first && chunk.last <= last)) {
      changes.push({ first: chunk.first, change: { state: "held" } });
      fixes += chunk.last - chunk.first + 1;
    }
  }
  for (const one of refused) {
    const index = /^breadcrumbs\[(\d+)\]/.exec(one.where ?? "")?.[1];
    const entry = one.kind === "breadcrumbs" && index !== undefined ? entries[Number(index)] : null;
    for (const chunk of entry?.chunks ?? []) {
      if (changes.some((done) => done.first === chunk.first)) continue;
      // a bad fix must not take its neighbours down: in company first, then alone
      changes.push({
        first: chunk.first,
        change: chunk.alone ? { state: "refused", problem: one.problem } : { alone: true },
      });
    }
  }
  return {
    held: [held.events, held.readings, held.clock_checks].flat().filter((id) => known.has(id)),
    refused: refused.filter((/** @type {any} */ one) => known.has(one.id)),
    chunks: changes,
    fixes,
    holds,
  };
}
