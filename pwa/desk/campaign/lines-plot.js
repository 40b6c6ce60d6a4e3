// @ts-check
/** One line a session: the fade of power, the recharge, or any other pair of columns. */
import { apart, curve, label, mark, whisker } from "../plots/marks.js";
import { createPlot, rangeOf } from "../plots/plot.js";
import { three } from "../page/files.js";

/** @typedef {{ x: number, y: number, low?: number, high?: number }} Spot */
/** @typedef {{ id: string, tag: string, name: string, spots: Spot[], kind?: number }} Line kind: told by colour and dashes */
/**
 * @typedef {object} Lines
 * @property {Line[]} lines
 * @property {string} x its title
 * @property {string} y
 * @property {(line: Line, spot: Spot) => string} words
 * @property {[string, string]} columns of the CSV
 * @property {string} empty
 * @property {string} source
 * @property {string[]} [kinds] what the lines' kinds are called
 * @property {boolean} [waiting] whether more is to come: its place is kept
 * @property {boolean} [dots] whether each spot was measured by itself
 */

const DASHES = ["", "6 3", "2 3", "9 3 2 3"];
const COLOURS = ["var(--line-speed)", "var(--line-soc)", "var(--line-power)", "var(--line-energy)"];

/**
 * @param {{ name: string, title: string, note: string, height?: number, focus: import("../plots/focus.js").Focus, whose: () => string, controls?: Node[] }} options
 */
export function createLinesPlot(options) {
  const plot = createPlot(options);
  return {
    ...plot,
    /** @param {Lines} told */
    update({ lines, x: xTitle, y: yTitle, words, columns, empty, source, kinds = [], waiting = false, dots = false }) {
      const drawn = lines.filter(({ spots }) => spots.length > 0);
      const few = drawn.length <= 2;
      const kindOf = (/** @type {Line} */ line, /** @type {number} */ i) => (few ? i : Math.max(0, line.kind ?? 0)) % COLOURS.length;
      const all = drawn.flatMap(({ spots }) => spots);
      void plot.update({
        source, empty: drawn.length === 0 ? empty : undefined, waiting,
        legend: few ? drawn.map(({ tag, name }, i) => sample(i, name.startsWith(`${tag} `) ? name : `${tag}  ${name}`))
          : kinds.map((words, i) => sample(i, `${words} cell`)),
        panels: [{
          x: { title: xTitle, range: rangeOf(all.map(({ x }) => x), 0) },
          y: { title: yTitle, range: rangeOf(all.flatMap(({ y, low, high }) => [y, low ?? y, high ?? y]), 0) },
          points: drawn.flatMap((line) => thinned(line.spots).map((spot) => ({ id: line.id, x: spot.x, y: spot.y, words: words(line, spot) }))),
          draw({ x, y, right }, focused) {
            /** @type {[number, number][][]} */
            const curves = drawn.map(({ spots }) => spots.map((spot) => [x(spot.x), y(spot.y)]));
            const ends = apart(drawn.map(({ id, tag, spots }) => ({ id, tag, last: Math.min(x(spots.at(-1)?.x ?? 0) + 6, right), at: y(spots.at(-1)?.y ?? 0) + 4 })), curves);
            return [
              ...drawn.flatMap((line, i) => {
                const { id, spots } = line;
                const last = spots.at(-1);
                const kind = kindOf(line, i);
                const near = id === focused || few;
                const colour = id === focused && !few ? "var(--ink)" : COLOURS[kind] ?? "";
                return [
                  curve(curves[i] ?? [], colour, near ? 2.6 : 1.3, DASHES[kind] || undefined),
                  ...(dots ? spots.flatMap((spot) => [...(spot.low !== undefined && spot.high !== undefined ? [whisker(y(spot.low), y(spot.high), x(spot.x), "y", near ? colour : "var(--edge)", 1)] : []),
                    mark("circle", x(spot.x), y(spot.y), near ? 4 : 3, colour)]) : last ? [mark("circle", x(last.x), y(last.y), 1.8, colour)] : []),
                ];
              }),
              ...ends.map(({ id, tag, last, at }) => label(last, at, tag, { "font-weight": 600, fill: "var(--ink)", ...(id === focused ? { "text-decoration": "underline" } : {}) })),
            ];
          },
        }],
        table: [["session", "car", ...columns, `${columns[1]}_low`, `${columns[1]}_high`],
          ...drawn.flatMap(({ id, name, spots }) => spots.map(({ x, y, low = null, high = null }) => {
            const [value, ...ends] = three({ value: y, low, high });
            return [id, name.trim(), x, value, ...ends];
          }))],
      });
    },
  };
}

/** @param {number} kind @param {string} words */
function sample(kind, words) {
  return { sign: curve([[0, 8], [26, 8]], COLOURS[kind % COLOURS.length] ?? "", 2, DASHES[kind % DASHES.length] || undefined), words };
}

/** @param {Spot[]} spots @returns {Spot[]} so many that arrow keys get through */
function thinned(spots) {
  const every = Math.max(1, Math.ceil(spots.length / 12));
  return spots.filter((_, i) => i % every === 0 || i === spots.length - 1);
}
