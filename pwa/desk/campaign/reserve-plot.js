// @ts-check
/** Reserve against pack size: each car with its doubt, and the three fits with their bands. */
import { el, svg } from "../page/dom.js";
import { apart, band, curve, label, mark, whisker } from "../plots/marks.js";
import { createPlot, rangeOf } from "../plots/plot.js";
import { car } from "./model.js";
import { figureWords, whole } from "./words.js";

/** @typedef {import("./model.js").Model} Model */
/** @typedef {import("./documents").Model["name"]} FitName */

/** @type {Record<FitName, { colour: string, dashes?: string, words: string }>} */
const FITS = {
  fixed: { colour: "var(--line-soc)", dashes: "7 4", words: "a fixed amount" },
  proportional: { colour: "var(--line-speed)", dashes: "2 3", words: "a share of the pack" },
  mixed: { colour: "var(--line-energy)", words: "some of both" },
};

/** @param {import("../plots/focus.js").Focus} focus */
export function createReservePlot(focus) {
  const shown = el("select", { class: "quiet-select", "aria-label": "Fit whose band is drawn", onchange: redraw },
    ...[["mixed", "band of the mixed fit"], ["fixed", "band of the fixed amount"], ["proportional", "band of the share"], ["", "no band"]].map(([value, words]) => el("option", { value: value ?? "" }, words ?? "")));
  const plot = createPlot({
    name: "reserve-by-pack", title: "Reserve against pack size", height: 400, focus, controls: [shown],
    note: "Each car with its 95 % interval in both directions; lines are the three answers tried, the band holds the line itself 95 times in 100.",
  });
  /** @type {[Model, import("../../shared/units.js").Units] | null} */
  let held = null;

  function redraw() {
    if (held) update(...held);
  }

  /** @param {Model} model @param {import("../../shared/units.js").Units} units */
  function update(model, units) {
    held = [model, units];
    const { comparison, rows, chemistries } = model;
    const drawable = rows.filter((row) => row.usable_kwh && row.reserve_kwh);
    // a reserve of which bounds alone are known may run out of the picture, so that it leaves room for the others
    const ends = drawable.flatMap(({ reserve_kwh: told }) => (whole(told) ? three(told) : [middle(told) - 0.25]));
    const packs = drawable.map(({ usable_kwh: told }) => told?.value ?? 0);
    const fits = comparison.reserve_model.models.filter(({ line }) => line.length > 1);
    const words = (/** @type {(typeof rows)[number]} */ row) => [car(row), figureWords("energy", row.reserve_kwh, units),
      `pack ${figureWords("energy", row.usable_kwh, units)}`, row.chemistry, row.shut_down_before_zero && "shut down before zero"].filter(Boolean).join(", ");
    const largest = Math.max(1, ...packs) * 1.1;
    const [low, high] = rangeOf(ends, 0);
    const fitted = 1 / 1.3; // the rest is for the lines' words
    void plot.update({
      source: comparison.engine,
      empty: drawable.length === 0 ? "No car with both a known pack and a known reserve yet." : undefined,
      legend: [...chemistries.map((name, i) => legend(mark(rows.find((row) => row.chemistry === name)?.shape ?? "cross", 9, 8, 5, "var(--ink)"), name, i)),
        ...fits.map(({ name }) => legend(curve([[0, 8], [26, 8]], FITS[name].colour, 2, FITS[name].dashes), FITS[name].words))],
      panels: [{
        x: { title: "usable energy of the pack, kWh", range: [0, largest / fitted] },
        y: { title: "reserve, kWh", range: [low, high] },
        points: drawable.map((row) => ({ id: row.session_id, x: row.usable_kwh?.value ?? 0, y: middle(row.reserve_kwh), words: words(row) })),
        draw({ x, y, top, bottom }, focused) {
          const clip = (/** @type {number} */ at) => Math.min(bottom, Math.max(top, at));
          /** @param {import("./documents").Model["line"]} line @param {"value" | "low" | "high"} end @returns {[number, number][]} */
          const points = (line, end) => line.map(({ usable_kwh: pack, reserve_kwh: told }) => [x(pack), clip(y(told[end]))]);
          const banded = fits.find(({ name }) => name === shown.value);
          const labels = spread(fits.map(({ name, line }) => ({ name, at: clip(y(line.at(-1)?.reserve_kwh.value ?? 0)) })), 14);
          return [
            ...(banded ? [band(points(banded.line, "low"), points(banded.line, "high"), FITS[banded.name].colour)] : []),
            ...fits.map(({ name, line }) => curve(points(line, "value"), FITS[name].colour, name === comparison.reserve_model.verdict ? 2.6 : 1.6, FITS[name].dashes)),
            ...labels.map(({ name, at }) => label(x(largest) + 8, at + 4, FITS[name].words, { fill: FITS[name].colour, "font-style": "italic" })),
            ...drawable.flatMap((row) => {
              const told = row.reserve_kwh;
              const [px, py] = [x(row.usable_kwh?.value ?? 0), y(middle(told))];
              const near = focused === row.session_id;
              const colour = near ? "var(--tide)" : "var(--ink)";
              return [
                whisker(clip(y(told?.low ?? low)), clip(y(told?.high ?? high)), px, "y", colour, near ? 2 : 1.1),
                ...(told && (told.low === null || told.low < low) ? [label(px + 7, bottom - 5, told.low === null ? "\u2193" : `\u2193 ${told.low.toFixed(1).replace("-", "\u2212")}`, { fill: "var(--ink-soft)" })] : []),
                ...(row.usable_kwh ? [whisker(x(row.usable_kwh.low), x(row.usable_kwh.high), py, "x", colour, near ? 2 : 1.1)] : []),
                mark(row.shape, px, py, near ? 6 : 4.5, colour, row.shut_down_before_zero),
              ];
            }),
            ...apart(drawable.map((row) => ({ row, last: x(row.usable_kwh?.value ?? 0) + 8, at: y(middle(row.reserve_kwh)) - 7 })))
              .map(({ row, last, at }) => label(last, at, row.tag, { fill: focused === row.session_id ? "var(--tide)" : "var(--ink)", "font-weight": 600 })),
          ];
        },
      }],
      table: [["session", "car", "usable_kwh", "usable_low_kwh", "usable_high_kwh", "reserve_kwh", "reserve_low_kwh", "reserve_high_kwh", "chemistry", "shut_down_before_zero"],
        ...drawable.map((row) => [row.session_id, row.vehicle, ...three(row.usable_kwh), ...three(row.reserve_kwh), row.chemistry, String(row.shut_down_before_zero)])],
    });
  }

  return { ...plot, update };
}

/** @param {import("./documents").Figure} told @returns {(number | null | undefined)[]} */
export function three(told) {
  return [told?.value, told?.low, told?.high];
}

/** @param {import("./documents").Figure} told @returns {number} where it is drawn */
export function middle(told) {
  return whole(told)?.value ?? told?.value ?? told?.high ?? told?.low ?? 0;
}

/**
 * @param {SVGElement} sign
 * @param {string} words
 * @param {unknown} [_place]
 */
export function legend(sign, words, _place) {
  return el("span", { class: "plot-key" }, svg("svg", { width: 28, height: 16, viewBox: "0 0 28 16", "aria-hidden": "true" }, sign), words);
}

/**
 * Labels apart from one another.
 * @template {{ at: number }} T
 * @param {T[]} labels
 * @param {number} apart pixels
 * @returns {T[]}
 */
export function spread(labels, apart) {
  const down = [...labels].sort((a, b) => a.at - b.at);
  let last = -Infinity;
  return down.map((one) => {
    last = Math.max(one.at, last + apart);
    return { ...one, at: last };
  });
}
