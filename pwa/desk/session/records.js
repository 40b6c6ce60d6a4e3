// @ts-check
/** Originals and corrections: what stands now, and what it replaced. Nothing is ever edited. */

/**
 * @template T
 * @typedef {object} Standing
 * @property {T} record the latest of its chain
 * @property {T[]} earlier what it replaced, newest first
 * @property {boolean} withdrawn the latest only takes the earlier ones back
 */

/**
 * @template {{ id: string, corrects?: string | null, withdraws?: boolean, value?: number | null }} T
 * @param {readonly T[]} records
 * @param {"event" | "reading"} sort a reading is withdrawn by a correction without a value
 * @returns {Standing<T>[]} one for each chain, in the order of `records`
 */
export function standing(records, sort) {
  const byId = new Map(records.map((record) => [record.id, record]));
  const replaced = new Set(records.flatMap((record) => record.corrects ?? []));
  return records
    .filter((record) => !replaced.has(record.id))
    .map((record) => {
      /** @type {T[]} */
      const earlier = [];
      const seen = new Set([record.id]);
      let before = record.corrects ? byId.get(record.corrects) : undefined;
      while (before && !seen.has(before.id)) {
        seen.add(before.id);
        earlier.push(before);
        before = before.corrects ? byId.get(before.corrects) : undefined;
      }
      const withdrawn = earlier.length > 0
        && (sort === "event" ? record.withdraws === true : (record.value ?? null) === null);
      return { record, earlier, withdrawn };
    });
}

/**
 * How far each device's clock is from session time; add to its `t_ms`. The set-up's figure goes
 * first, then the clock check with the shortest round trip, as in the exported session file.
 * @param {import("./documents").SessionDocument} session
 * @returns {(device: string) => number} milliseconds
 */
export function clockOffsets(session) {
  /** @type {Map<string, number>} */
  const offsets = new Map();
  const checks = [...(session.clock_checks ?? [])].sort((a, b) => b.round_trip_ms - a.round_trip_ms);
  for (const check of checks) offsets.set(check.device, check.offset_ms);
  for (const device of session.setup.devices ?? []) {
    if (typeof device.clock_offset_ms === "number") offsets.set(device.id, device.clock_offset_ms);
  }
  return (device) => offsets.get(device) ?? 0;
}
