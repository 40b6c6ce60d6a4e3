// @ts-check
/** Reading the curves: where on the line a moment is, and which moment a place on an axis is. */

/** @typedef {import("./documents").CurvesDocument} CurvesDocument */
/** @typedef {import("./documents").Band} Band */
/** @typedef {"time" | "distance" | "past_zero"} AxisName */

const EDGE_MS = 2000; // of the line's ends, where a tap still belongs to it

/**
 * A curve's own point, as a table lists it.
 * @param {Band} band
 * @param {number} index
 * @returns {import("../../shared/units.js").Quantity | null}
 */
export function quantityOf(band, index) {
  return quantity(band.value[index], band.low[index], band.high[index]);
}

/**
 * A curve read at any moment: along the lines between its points, never a neighbour's figure.
 * @param {readonly number[]} tMs ascending
 * @param {Band} band
 * @param {number} wantedMs
 * @returns {import("../../shared/units.js").Quantity | null}
 */
export function quantityAt(tMs, band, wantedMs) {
  const place = placeOn(tMs, wantedMs);
  return place && quantity(along(band.value, place), along(band.low, place), along(band.high, place));
}

/**
 * @param {readonly number[]} tMs ascending
 * @param {readonly (number | null)[]} column
 * @param {number} wantedMs
 * @returns {number | null} linear between points; null outside the line or where it isn't known
 */
export function valueAt(tMs, column, wantedMs) {
  const place = placeOn(tMs, wantedMs);
  return place && along(column, place);
}

/** @typedef {{ before: number, share: number }} Place  a moment as a share of the way to the next point */

/**
 * @param {readonly number[]} tMs ascending
 * @param {number} wantedMs
 * @returns {Place | null} null when the moment is outside the line by over two seconds
 */
export function placeOn(tMs, wantedMs) {
  const [first, last] = [tMs[0], tMs.at(-1)];
  if (first === undefined || last === undefined) return null;
  if (wantedMs < first - EDGE_MS || wantedMs > last + EDGE_MS) return null;
  const at = Math.min(last, Math.max(first, wantedMs));
  const before = lastUntil(tMs, at);
  const [from, to] = [tMs[before] ?? at, tMs[before + 1] ?? at];
  return { before, share: to > from ? (at - from) / (to - from) : 0 };
}

/**
 * @param {readonly number[]} sorted ascending, the first not after `wanted`
 * @param {number} wanted
 * @returns {number} index of the last value that isn't after it
 */
function lastUntil(sorted, wanted) {
  let low = 0;
  let high = sorted.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if ((sorted[middle] ?? 0) <= wanted) low = middle;
    else high = middle - 1;
  }
  return low;
}

/**
 * @param {readonly (number | null)[]} column
 * @param {Place} place
 */
function along(column, { before, share }) {
  const [from, to] = [column[before], column[before + 1]];
  if (typeof from !== "number") return null;
  if (share === 0) return from;
  return typeof to === "number" ? from + share * (to - from) : null;
}

/**
 * @param {number | null | undefined} value
 * @param {number | null | undefined} low
 * @param {number | null | undefined} high
 */
function quantity(value, low, high) {
  return typeof value === "number" && typeof low === "number" && typeof high === "number"
    ? { value, low, high } : null;
}
