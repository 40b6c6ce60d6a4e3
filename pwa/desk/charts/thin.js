// @ts-check
/**
 * What of a long curve a screen can show: for each column of pixels the lowest and the highest
 * point, so that nothing that stands out is lost however many fixes lie in one column.
 */

/**
 * @typedef {object} Curve
 * @property {Float64Array} x ascending, no gaps in it
 * @property {Float64Array} y NaN where it isn't known: the line breaks there
 */
/** @typedef {{ x: Float64Array, low: Float64Array, high: Float64Array }} Ribbon  the same, with two ends */

/** @param {readonly (number | null)[]} column @returns {Float64Array} NaN for null */
export function floats(column) {
  const found = new Float64Array(column.length);
  for (let i = 0; i < found.length; i += 1) found[i] = column[i] ?? NaN;
  return found;
}

/**
 * Places on an axis made fit for drawing: points without one go, and one that lies behind its
 * forerunner (a smoothed distance may go back by millimetres) is put beside it.
 * @param {readonly (number | null)[]} xs
 * @param {readonly (readonly (number | null)[])[]} columns
 * @returns {{ x: Float64Array, columns: Float64Array[] }}
 */
export function ascending(xs, columns) {
  /** @type {number[]} */
  const kept = [];
  for (let i = 0; i < xs.length; i += 1) if (typeof xs[i] === "number") kept.push(i);
  const x = new Float64Array(kept.length);
  let last = -Infinity;
  kept.forEach((i, k) => {
    last = Math.max(last, xs[i] ?? NaN);
    x[k] = last;
  });
  return { x, columns: columns.map((column) => floats(kept.map((i) => column[i] ?? null))) };
}

/**
 * @param {Float64Array} x
 * @param {number} wanted
 * @returns {number} the first position at or after it
 */
export function firstFrom(x, wanted) {
  let low = 0;
  let high = x.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((x[middle] ?? 0) < wanted) low = middle + 1;
    else high = middle;
  }
  return low;
}

/**
 * @param {Curve} curve
 * @param {number} from axis units
 * @param {number} to
 * @param {number} columns of pixels between them
 * @returns {Curve} what is to be drawn, one point beyond each end included
 */
export function thinLine({ x, y }, from, to, columns) {
  const start = Math.max(0, firstFrom(x, from) - 1);
  const end = Math.min(x.length, firstFrom(x, to) + 1);
  if (end - start <= columns * 4) return { x: x.subarray(start, end), y: y.subarray(start, end) };
  const outX = new Float64Array(columns * 3 + 10);
  const outY = new Float64Array(outX.length);
  let n = 0;
  const put = (/** @type {number} */ i) => {
    outX[n] = x[i] ?? NaN;
    outY[n] = y[i] ?? NaN;
    n += 1;
  };
  const perColumn = (to - from) / columns;
  for (let i = start; i < end;) {
    const until = from + (Math.floor(((x[i] ?? 0) - from) / perColumn) + 1) * perColumn;
    const first = i;
    let lowest = -1;
    let highest = -1;
    let broken = -1;
    for (; i < end && (i === first || (x[i] ?? 0) < until); i += 1) {
      const value = y[i] ?? NaN;
      if (Number.isNaN(value)) broken = i;
      else {
        if (lowest < 0 || value < (y[lowest] ?? 0)) lowest = i;
        if (highest < 0 || value > (y[highest] ?? 0)) highest = i;
      }
    }
    // in order of time; the ends of a column lie within a pixel of its neighbours' and need no point
    const [one, other] = lowest < highest ? [lowest, highest] : [highest, lowest];
    if (one >= 0) put(one);
    if (other > one) put(other);
    if (broken >= 0) put(broken);
  }
  return { x: outX.subarray(0, n), y: outY.subarray(0, n) };
}

/**
 * @param {Ribbon} ribbon
 * @param {number} from
 * @param {number} to
 * @param {number} columns
 * @returns {Ribbon} the widest of each column
 */
export function thinRibbon({ x, low, high }, from, to, columns) {
  const start = Math.max(0, firstFrom(x, from) - 1);
  const end = Math.min(x.length, firstFrom(x, to) + 1);
  if (end - start <= columns * 2) return { x: x.subarray(start, end), low: low.subarray(start, end), high: high.subarray(start, end) };
  const out = { x: new Float64Array(columns + 4), low: new Float64Array(columns + 4), high: new Float64Array(columns + 4) };
  let n = 0;
  const perColumn = (to - from) / columns;
  for (let i = start; i < end && n < out.x.length;) {
    const until = from + (Math.floor(((x[i] ?? 0) - from) / perColumn) + 1) * perColumn;
    const first = i;
    let least = Infinity;
    let most = -Infinity;
    for (; i < end && (i === first || (x[i] ?? 0) < until); i += 1) {
      const [a, b] = [low[i] ?? NaN, high[i] ?? NaN];
      if (a < least) least = a;
      if (b > most) most = b;
    }
    out.x[n] = x[first] ?? NaN;
    out.low[n] = least === Infinity ? NaN : least;
    out.high[n] = most === -Infinity ? NaN : most;
    n += 1;
  }
  return { x: out.x.subarray(0, n), low: out.low.subarray(0, n), high: out.high.subarray(0, n) };
}

/**
 * The vertical range that shows all of some columns for the part of the axis in view.
 * @param {Float64Array} x ascending
 * @param {Float64Array[]} columns
 * @param {number} from
 * @param {number} to
 * @param {{ floor?: number, least?: number }} [options] floor: a value always shown; least: span
 * @returns {[number, number]}
 */
export function rangeOf(x, columns, from, to, { floor, least = 1 } = {}) {
  let low = floor ?? Infinity;
  let high = floor ?? -Infinity;
  const [start, end] = [firstFrom(x, from), Math.min(x.length, firstFrom(x, to) + 1)];
  for (const column of columns) {
    for (let i = start; i < end; i += 1) {
      const y = column[i] ?? NaN;
      if (y < low) low = y;
      if (y > high) high = y;
    }
  }
  if (low > high) return [0, 1];
  if (high - low < least) {
    const missing = least - (high - low);
    if (floor === undefined) low -= missing / 2;
    high = low + least;
  }
  const margin = (high - low) * 0.06;
  return [floor !== undefined && low >= floor ? floor : low - margin, high + margin];
}
