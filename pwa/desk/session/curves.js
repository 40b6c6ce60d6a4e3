// @ts-check
/** Reading the curves: where on the line a moment is, and which moment a place on an axis is. */

/** @typedef {import("./documents").CurvesDocument} CurvesDocument */
/** @typedef {import("./documents").Band} Band */
/** @typedef {"time" | "distance" | "past_zero"} AxisName */

/**
 * @param {readonly number[]} sorted ascending
 * @param {number} wanted
 * @returns {number} index of the nearest value; -1 when there is none
 */
export function nearestIndex(sorted, wanted) {
  let low = 0;
  let high = sorted.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((sorted[middle] ?? 0) < wanted) low = middle + 1;
    else high = middle;
  }
  if (low > 0 && wanted - (sorted[low - 1] ?? 0) < (sorted[low] ?? 0) - wanted) return low - 1;
  return high < 0 ? -1 : low;
}

/**
 * @param {readonly number[]} tMs ascending
 * @param {number} wantedMs
 * @returns {number} nearest index, or -1 when the moment is outside the line by over two seconds
 */
export function indexAt(tMs, wantedMs) {
  const first = tMs[0];
  const last = tMs[tMs.length - 1];
  if (first === undefined || last === undefined) return -1;
  if (wantedMs < first - 2000 || wantedMs > last + 2000) return -1;
  return nearestIndex(tMs, wantedMs);
}

/**
 * @param {Band} band
 * @param {number} index
 * @returns {import("../../shared/units.js").Quantity | null}
 */
export function quantityAt(band, index) {
  const value = band.value[index];
  const low = band.low[index];
  const high = band.high[index];
  return typeof value === "number" && typeof low === "number" && typeof high === "number"
    ? { value, low, high } : null;
}

/**
 * @param {readonly number[]} tMs ascending
 * @param {readonly (number | null)[]} column
 * @param {number} wantedMs
 * @returns {number | null} linear between points; null outside the line or where it isn't known
 */
export function valueAt(tMs, column, wantedMs) {
  const near = indexAt(tMs, wantedMs);
  if (near < 0) return null;
  const after = (tMs[near] ?? 0) < wantedMs ? near + 1 : near;
  const [t0, t1] = [tMs[after - 1], tMs[after]];
  const [v0, v1] = [column[after - 1], column[after]];
  if (typeof t0 !== "number" || typeof t1 !== "number" || t1 <= t0) return column[near] ?? null;
  if (typeof v0 !== "number" || typeof v1 !== "number") return column[near] ?? null;
  return v0 + ((v1 - v0) * (wantedMs - t0)) / (t1 - t0);
}
