// @ts-check
/** Reserve against pack size: each car with its doubt, and the three fits with their bands. */
import { el } from "../page/dom.js";
import { figureWords, whole } from "../page/figure.js";
import { apart, band, bounds, curve, framed, label, mark, whisker } from "../plots/marks.js";
import { createPlot, rangeOf } from "../plots/plot.js";
import { three } from "../page/files.js";
import { car } from "./model.js";

/** @typedef {import("./model.js").Model} Model */
/** @typedef {import("./documents").Model["name"]} FitName */

/** @type {Record<FitName, { colour: string, dashes?: string, words: string }>} */
const FITS = {
  fixed: { colour: "var(--line-soc)", dashes: "7 4", words: "a fixed amount" },
  proportional: { colour: "var(--line-speed)", dashes: "2 3", words: "a share of the pack" },
  mixed: { colour: "var(--line-energy)", words: "some of both" },
};

/** @param {import("../plots/focus.js").Focus} focus @param {() => string} whose */
export function createReservePlot(focus, whose) {
  const shown = el("select", { class: "quiet-select", "aria-label": "Fit whose band is drawn", onchange: redraw },
    ...[["mixed", "band of the mixed fit"], ["fixed", "band of the fixed amount"], ["proportional", "band of the share"], ["", "no band"]].map(([value, words]) => el("option", { value: value ?? "" }, words ?? "")));
  const plot = createPlot({
    name: "reserve-by-pack", title: "Reserve against pack size", height: 400, focus, whose, controls: [shown],
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
    const packs = drawable.map(({ usable_kwh: told }) => told?.value ?? 0);
    const fits = comparison.reserve_model.models.filter(({ line }) => line.length > 1);
    const words = (/** @type {(typeof rows)[number]} */ row) => [car(row), figureWords("energy", row.reserve_kwh, units),
      `pack ${figureWords("energy", row.usable_kwh, units)}`, row.chemistry, row.shut_down_before_zero && "shut down before zero"].filter(Boolean).join(", ");
    const largest = Math.max(1, ...packs) * 1.1;
    const [low, high] = rangeOfAll(drawable, fits);
    const fitted = 1 / 1.3; // the rest is for the lines' words
    void plot.update({
      source: comparison.engine,
      empty: drawable.length === 0 ? "No car with both a known pack and a known reserve yet." : undefined,
      legend: [...carKeys(drawable, chemistries, "y"),
        ...fits.map(({ name }) => ({ sign: curve([[0, 8], [26, 8]], FITS[name].colour, 2, FITS[name].dashes), words: FITS[name].words })),
        ...fits.filter(({ name }) => name === shown.value).map(({ name }) => ({ sign: band([[2, 14], [26, 14]], [[2, 2], [26, 2]], FITS[name].colour, 0.3), words: `95 % band of \u201c${FITS[name].words}\u201d` }))],
      panels: [{
        x: { title: "usable energy of the pack, kWh", range: [0, largest / fitted] },
        y: { title: "reserve, kWh", range: [low, high] },
        points: drawable.map((row) => ({ id: row.session_id, x: row.usable_kwh?.value ?? 0, y: middle(row.reserve_kwh), words: words(row) })),
        draw(place, focused) {
          const { x, y, top, bottom } = place;
          /** @param {import("./documents").Model["line"]} line @param {"value" | "low" | "high"} end @returns {[number, number][]} */
          const points = (line, end) => line.map(({ usable_kwh: pack, reserve_kwh: told }) => [x(pack), y(told[end])]);
          const banded = fits.find(({ name }) => name === shown.value);
          const labels = spread(fits.map(({ name, line }) => ({ name, at: y(line.at(-1)?.reserve_kwh.value ?? 0) })), 14);
          return [
            ...(banded ? [framed(place, [band(points(banded.line, "low"), points(banded.line, "high"), FITS[banded.name].colour)])] : []),
            ...fits.map(({ name, line }) => curve(points(line, "value"), FITS[name].colour, name === comparison.reserve_model.verdict ? 2.6 : 1.6, FITS[name].dashes)),
            ...labels.map(({ name, at }) => label(x(largest) + 8, at + 4, FITS[name].words, { fill: FITS[name].colour, "font-style": "italic" })),
            ...drawable.flatMap((row) => {
              const told = row.reserve_kwh;
              const known = whole(told);
              const [px, py] = [x(row.usable_kwh?.value ?? 0), y(middle(told))];
              const near = focused === row.session_id;
              const colour = near ? "var(--tide)" : "var(--ink)";
              return [
                known ? whisker(y(known.low), y(known.high), px, "y", colour, near ? 2 : 1.1)
                  : bounds(told?.low == null ? null : y(told.low), told?.high == null ? null : y(told.high), [bottom, top], px, "y", colour, near ? 2.4 : 1.6),
                ...(known && row.usable_kwh ? [whisker(x(row.usable_kwh.low), x(row.usable_kwh.high), py, "x", colour, near ? 2 : 1.1)] : []),
                ...(known ? [mark(row.shape, px, py, near ? 6 : 4.5, colour)] : []),
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

/**
 * The axis that holds every line, bar and car; and every band, but for what would press all else together.
 * @param {import("./model.js").Row[]} rows
 * @param {import("./documents").Model[]} fits
 */
function rangeOfAll(rows, fits) {
  const lines = fits.flatMap(({ line }) => line.map(({ reserve_kwh: told }) => told));
  const [low, high] = rangeOf([...rows.flatMap(({ reserve_kwh: told }) => [told?.value, told?.low, told?.high]), ...lines.map(({ value }) => value)], 0);
  const most = (high - low) / 2;
  return rangeOf([...lines.flatMap((told) => [Math.max(told.low, low - most), Math.min(told.high, high + most)]), low, high]);
}

/** @param {import("./documents").Figure} told @returns {number} where it is drawn; of bounds halfway, or at the one that is known */
export function middle(told) {
  if (!told) return 0;
  if (told.value === null && told.low !== null && told.high !== null) return (told.low + told.high) / 2;
  return told.value ?? told.high ?? told.low ?? 0;
}

/**
 * What the cars' signs stand for.
 * @param {import("./model.js").Row[]} rows
 * @param {string[]} chemistries
 * @param {"x" | "y"} along of a bar
 * @returns {import("../plots/save.js").Key[]}
 */
export function carKeys(rows, chemistries, along) {
  const kinds = chemistries.map((name) => ({ sign: mark(rows.find((row) => row.chemistry === name)?.shape ?? "cross", 12, 8, 5, "var(--ink)"), words: `${name} cell` }));
  const unstated = rows.find(({ chemistry }) => !chemistry);
  if (unstated) kinds.push({ sign: mark(unstated.shape, 12, 8, 5, "var(--ink)"), words: "chemistry not stated" });
  if (rows.some(({ reserve_kwh: told }) => told && !whole(told))) {
    kinds.push({ sign: along === "y" ? bounds(14, 2, [14, 2], 12, "y", "var(--ink)") : bounds(2, 26, [2, 26], 8, "x", "var(--ink)"), words: "known by its bounds alone: shut down before zero" });
  }
  return kinds;
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
