// @ts-check
/** What the strips draw: plotly traces from the API's arrays. Null breaks a line, as it should. */
import { convert } from "../../shared/units.js";
import { themeTokens, translucent } from "../theme.js";

/** @typedef {import("../documents").Band} Band */
/** @typedef {import("../documents").Column} Column */
/** @typedef {import("../../shared/units.js").Units} Units */
/** @typedef {import("../../shared/units.js").Dimension} Dimension */
/** @typedef {Record<string, unknown> & { panel: number }} Trace */

/**
 * @param {Column} column
 * @param {Dimension} dimension
 * @param {Units} units
 * @returns {Column}
 */
export function converted(column, dimension, units) {
  return column.map((value) => (value === null ? null : convert(dimension, value, units)));
}

/**
 * A line with its 95 % band: one polygon for each unbroken stretch, so that gaps stay gaps.
 * @param {number} panel
 * @param {Column} xs
 * @param {Band} band in the unit shown
 * @param {string} colour "#rrggbb"
 * @returns {Trace[]}
 */
export function bandTraces(panel, xs, band, colour) {
  /** @type {Column} */
  const outlineX = [];
  /** @type {Column} */
  const outlineY = [];
  let start = 0;
  for (let i = 0; i <= xs.length; i += 1) {
    const known = i < xs.length && typeof xs[i] === "number"
      && typeof band.low[i] === "number" && typeof band.high[i] === "number";
    if (known) continue;
    if (i - start > 1) {
      for (let k = start; k < i; k += 1) {
        outlineX.push(xs[k] ?? null);
        outlineY.push(band.high[k] ?? null);
      }
      for (let k = i - 1; k >= start; k -= 1) {
        outlineX.push(xs[k] ?? null);
        outlineY.push(band.low[k] ?? null);
      }
      outlineX.push(null);
      outlineY.push(null);
    }
    start = i + 1;
  }
  return [
    { panel, type: "scatter", mode: "lines", x: outlineX, y: outlineY, fill: "toself",
      fillcolor: translucent(colour, 0.2), line: { width: 0 }, connectgaps: false },
    { panel, type: "scatter", mode: "lines", x: xs, y: band.value,
      line: { color: colour, width: 1.5 }, connectgaps: false },
  ];
}

/**
 * Values that hold until the next one.
 * @param {number} panel
 * @param {{ x: number, y: number }[]} points in order
 * @param {string} colour
 * @returns {Trace[]}
 */
export function stepTraces(panel, points, colour) {
  return [{
    panel, type: "scatter", mode: "lines+markers", x: points.map(({ x }) => x), y: points.map(({ y }) => y),
    line: { color: colour, width: 1.5, shape: "hv" }, marker: { size: 5, color: colour },
  }];
}

/** @typedef {{ x: number, y: number, low: number, high: number }} DisplayPoint */

/**
 * What a display showed: the point, and the bar of everything it could have meant.
 * @param {number} panel
 * @param {DisplayPoint[]} points
 * @param {string} colour
 * @returns {Trace[]}
 */
export function displayTraces(panel, points, colour) {
  return [{
    panel, type: "scatter", mode: "markers", x: points.map(({ x }) => x), y: points.map(({ y }) => y),
    marker: { size: 6, color: themeTokens().sheet, line: { color: colour, width: 1.5 } },
    error_y: {
      type: "data", symmetric: false, width: 3, thickness: 1.3, color: colour,
      array: points.map(({ y, high }) => high - y), arrayminus: points.map(({ y, low }) => y - low),
    },
  }];
}

/**
 * The vertical range that shows all of some columns for the part of the axis in view.
 * @param {Column} xs
 * @param {Column[]} columns
 * @param {number} from
 * @param {number} to
 * @param {{ floor?: number, least?: number }} [options] floor: a value always shown; least: span
 * @returns {[number, number]}
 */
export function rangeOf(xs, columns, from, to, { floor, least = 1 } = {}) {
  let low = floor ?? Infinity;
  let high = floor ?? -Infinity;
  for (let i = 0; i < xs.length; i += 1) {
    const x = xs[i];
    if (typeof x !== "number" || x < from || x > to) continue;
    for (const column of columns) {
      const y = column[i];
      if (typeof y !== "number") continue;
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
