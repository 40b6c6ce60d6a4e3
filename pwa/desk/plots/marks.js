// @ts-check
/** Marks of a plot: told apart by shape, so that no colour has to. */
import { svg } from "../page/dom.js";

/** @typedef {"circle" | "square" | "triangle" | "diamond" | "cross" | "bar"} Shape */
/** @type {readonly Shape[]} */
export const SHAPES = ["circle", "square", "triangle", "diamond"];

/**
 * @param {Shape} shape
 * @param {number} x
 * @param {number} y
 * @param {number} size half of its width
 * @param {string} colour
 * @param {boolean} [hollow]
 * @returns {SVGElement}
 */
export function mark(shape, x, y, size, colour, hollow = false) {
  const paint = { fill: hollow ? "var(--ground)" : colour, stroke: colour, "stroke-width": 1.5 };
  /** @param {[number, number][]} corners */
  const polygon = (corners) => svg("polygon", { points: corners.map(([dx, dy]) => `${round(x + dx * size)},${round(y + dy * size)}`).join(" "), ...paint });
  switch (shape) {
    case "circle": return svg("circle", { cx: round(x), cy: round(y), r: size, ...paint });
    case "square": return polygon([[-0.9, -0.9], [0.9, -0.9], [0.9, 0.9], [-0.9, 0.9]]);
    case "triangle": return polygon([[0, -1.1], [1.1, 0.9], [-1.1, 0.9]]);
    case "diamond": return polygon([[0, -1.25], [1.25, 0], [0, 1.25], [-1.25, 0]]);
    case "cross": return line([[x - size, y - size, x + size, y + size], [x - size, y + size, x + size, y - size]], colour, 1.8);
    case "bar": return line([[x, y - size, x, y + size]], colour, 1.8);
  }
}

/** Strokes. @param {[number, number, number, number][]} parts @param {string} colour @param {number} [width] @param {string} [dashes] */
export function line(parts, colour, width = 1.3, dashes) {
  return svg("path", { d: parts.map(([x1, y1, x2, y2]) => `M${round(x1)},${round(y1)}L${round(x2)},${round(y2)}`).join(""), stroke: colour, "stroke-width": width, fill: "none", "stroke-dasharray": dashes });
}

/** @param {[number, number][]} points @param {string} colour @param {number} [width] @param {string} [dashes] */
export function curve(points, colour, width = 1.6, dashes) {
  return svg("path", { d: path(points), stroke: colour, "stroke-width": width, fill: "none", "stroke-linejoin": "round", "stroke-dasharray": dashes });
}

/** @param {[number, number][]} low @param {[number, number][]} high @param {string} colour @param {number} [opacity] */
export function band(low, high, colour, opacity = 0.14) {
  return svg("path", { d: `${path([...low, ...[...high].reverse()])}Z`, fill: colour, "fill-opacity": opacity });
}

/** Words with a rim of the ground's colour, so that no line strikes them through. @param {number} x @param {number} y @param {string} text @param {import("../page/dom.js").Attributes} [more] */
export function label(x, y, text, more = {}) {
  return svg("text", { x: round(x), y: round(y), "font-size": 11.5, fill: "var(--ink)", stroke: "var(--ground)", "stroke-width": 3, "stroke-linejoin": "round", "paint-order": "stroke", ...more }, text);
}

/** What is cut at the frame of its panel, as it would run. @param {{ left: number, right: number, top: number, bottom: number }} frame @param {SVGElement[]} parts */
export function framed({ left, right, top, bottom }, parts) {
  const [width, height] = [right - left, bottom - top];
  return svg("svg", { x: left, y: top, width, height, viewBox: `${left} ${top} ${width} ${height}`, overflow: "hidden" }, ...parts);
}

/**
 * Bounds of what has no best estimate: a bar with feet, and an arrow where an end is open.
 * @param {number | null} from null: open
 * @param {number | null} to
 * @param {[number, number]} frame how far an open end is drawn, in the same direction
 * @param {number} across
 * @param {"x" | "y"} along
 * @param {string} colour
 * @param {number} [width]
 */
export function bounds(from, to, frame, across, along, colour, width = 1.6) {
  const ends = [from ?? frame[0], to ?? frame[1]];
  const [start = 0, end = 0] = ends;
  const way = Math.sign(end - start) || 1;
  /** @type {[number, number, number, number][]} */
  const parts = [[start, across, end, across]];
  for (const [at, open, out] of /** @type {[number, boolean, number][]} */ ([[start, from === null, -way], [end, to === null, way]])) {
    if (open) parts.push([at - 6 * out, across - 4, at, across], [at - 6 * out, across + 4, at, across]);
    else parts.push([at, across - 5, at, across + 5]);
  }
  return line(along === "x" ? parts : parts.map(([x1, y1, x2, y2]) => [y1, x1, y2, x2]), colour, width);
}

/** An interval with feet at its ends. @param {number} from @param {number} to @param {number} across @param {"x" | "y"} along @param {string} colour @param {number} [width] */
export function whisker(from, to, across, along, colour, width = 1.2) {
  const foot = Math.abs(to - from) > 7 ? 3 : 0;
  return along === "x"
    ? line([[from, across, to, across], [from, across - foot, from, across + foot], [to, across - foot, to, across + foot]], colour, width)
    : line([[across, from, across, to], [across - foot, from, across + foot, from], [across - foot, to, across + foot, to]], colour, width);
}

/**
 * Tags that would lie on one another, one above or below the other, and beside what is drawn where there is room.
 * @template {{ last: number, at: number }} T
 * @param {T[]} tags
 * @param {[number, number][][]} [curves] that a tag had better not lie on
 * @returns {T[]}
 */
export function apart(tags, curves = []) {
  /** @type {T[]} */
  const placed = [];
  for (const tag of [...tags].sort((a, b) => a.last - b.last)) {
    const free = [0, -12, 12, -24, 24, -36, 36].map((by) => tag.at + by)
      .filter((at) => !placed.some((other) => Math.abs(other.last - tag.last) < 17 && Math.abs(other.at - at) < 11));
    const clear = free.find((at) => !curves.some((points) => crosses(points, tag.last, at)));
    placed.push({ ...tag, at: clear ?? free[0] ?? tag.at });
  }
  return placed;
}

/** Whether a curve runs through a tag of two signs. @param {[number, number][]} points from left to right @param {number} left @param {number} foot */
function crosses(points, left, foot) {
  return points.some(([x2, y2], i) => {
    const [x1, y1] = points[i - 1] ?? [x2, y2];
    const [from, to] = [Math.max(left, x1), Math.min(left + 13, x2)];
    if (from > to) return false;
    const y = (/** @type {number} */ x) => (x2 > x1 ? y1 + ((y2 - y1) * (x - x1)) / (x2 - x1) : y2);
    return Math.max(y(from), y(to)) > foot - 9 && Math.min(y(from), y(to)) < foot + 1;
  });
}

/** @param {[number, number][]} points */
function path(points) {
  return points.map(([x, y], i) => `${i ? "L" : "M"}${round(x)},${round(y)}`).join("");
}

/** @param {number} pixels */
function round(pixels) {
  return Math.round(pixels * 10) / 10;
}
