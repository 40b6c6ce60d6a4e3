// @ts-check
/** The ladders of all sessions side by side, aligned at zero or at the shut-off. */
import { EVENTS, eventName } from "../../shared/vocabulary.js";
import { convert, unitOf } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { figureWords } from "../page/figure.js";
import { label, line, mark, whisker } from "../plots/marks.js";
import { createPlot, rangeOf } from "../plots/plot.js";
import { three } from "../page/files.js";
import { BEFORE_ZERO, className } from "./words.js";

/** @typedef {import("../session/documents").ResultDocument} ResultDocument */
/** @typedef {{ session_id: string, name: string, result: ResultDocument }} Ladder */

/** @type {[string, import("../plots/marks.js").Shape, string, boolean, string][]} kind, shape, colour, hollow, words */
const SIGNS = [
  ["zero_soc", "circle", "var(--tide)", false, eventName("zero_soc")],
  ["zero_range", "circle", "var(--tide)", true, eventName("zero_range")],
  ["warning", "triangle", "var(--amber)", false, "Warning"],
  ["speed_capped", "diamond", "var(--line-power)", false, "Speed or power limited"],
  ["power_limited", "diamond", "var(--line-power)", false, ""],
  ["propulsion_off", "square", "var(--alarm)", false, eventName("propulsion_off")],
  ["contactors_open", "square", "var(--alarm)", true, eventName("contactors_open")],
];
const FAR_M = 25_000; // before zero; earlier warnings would press all else together

/** @param {import("../plots/focus.js").Focus} focus @param {() => string} whose @param {string} [title] */
export function createLadderPlot(focus, whose, title = "Ladders of all cars") {
  /** @type {[Ladder[], string, import("../../shared/units.js").Units] | null} */
  let held = null;
  /** @param {string} words @param {string} value @param {boolean} [chosen] */
  const segment = (words, value, chosen) => el("label", {}, el("input", { type: "radio", name: "ladder-at", value, checked: chosen, onchange: () => held && update(...held) }), el("span", {}, words));
  const alignment = el("div", { class: "segments", role: "group", "aria-label": "Ladders aligned" }, segment("at shut-off", "end", true), segment("at zero", "zero"));
  const plot = createPlot({
    name: "ladders", title, focus, whose, controls: [alignment],
    note: "What happened on the way down, by distance; bars are 95 % intervals.",
  });

  /** @param {Ladder[]} ladders @param {string} source @param {import("../../shared/units.js").Units} units */
  function update(ladders, source, units) {
    held = [ladders, source, units];
    const atEnd = alignment.querySelector("input:checked")?.getAttribute("value") !== "zero";
    const rungs = ladders.flatMap(({ session_id: id, name, result }, row) => result.timeline.flatMap((entry) => {
      const told = atEnd ? entry.left_m : entry.past_zero_m;
      const sign = SIGNS.find(([kind]) => kind === entry.kind);
      if (!told || !sign || (entry.past_zero_m?.value ?? 0) < -FAR_M || (atEnd && told.value > FAR_M + 10_000)) return [];
      const [value, low, high] = (atEnd ? [-told.value, -told.high, -told.low] : [told.value, told.low, told.high]).map((end) => convert("distance", end, units));
      const what = entry.kind === "warning" && entry.class ? `Warning, ${className(entry.class).toLowerCase()}` : EVENTS[entry.kind]?.name ?? entry.kind;
      return [{ id, row, entry, sign, value: value ?? 0, low: low ?? 0, high: high ?? 0, words: `${name.trim()}: ${what}, ${figureWords("distance", told, units)} ${atEnd ? "before it could no longer drive" : "past zero"}` }];
    }));
    const unit = unitOf("distance", units);
    void plot.update({
      source,
      empty: rungs.length === 0 ? "No session has events with a place on the way down." : undefined,
      legend: SIGNS.filter(([kind, , , , words]) => words && rungs.some(({ entry }) => entry.kind === kind || (kind === "speed_capped" && entry.kind === "power_limited")))
        .map(([, shape, colour, hollow, words]) => ({ sign: mark(shape, 12, 8, 5, colour, hollow), words })),
      panels: [{
        x: { title: atEnd ? `to the end of the drive, ${unit}` : `past zero, ${unit}`, range: rangeOf(rungs.flatMap(({ value }) => [value]), 0) },
        y: { title: "", rows: ladders.map(({ name }) => name) },
        points: rungs.map(({ id, row, value, words }) => ({ id, x: value, y: row, words })),
        draw: ({ x, y, top, bottom }, focused) => [
          line([[x(0), top, x(0), bottom]], "var(--edge)", 1.4),
          ...ladders.flatMap(({ result }, row) => (!atEnd && result.reserve.shut_down_before_zero ? [label(x(0) - 8, y(row) + 4, `${BEFORE_ZERO}, so nothing to align`, { "text-anchor": "end", "font-style": "italic" })] : [])),
          ...ladders.flatMap(({ session_id: id }, row) => {
            const own = rungs.filter((rung) => rung.row === row).map(({ value }) => x(value));
            return own.length > 1 ? [line([[Math.min(...own), y(row), Math.max(...own), y(row)]], focused === id ? "var(--tide)" : "var(--rule)", focused === id ? 2.4 : 1.6)] : [];
          }),
          ...inFront(rungs).flatMap(({ row, sign: [, shape, colour, hollow], value, low, high }) => [
            ...(x(high) - x(low) > 12 ? [whisker(x(low), x(high), y(row), "x", colour, 1)] : []), mark(shape, x(value), y(row), hollow ? 6.6 : 4.6, colour, hollow)]),
        ],
      }],
      table: [["session", "car", "event", "class", "past_zero_m", "past_zero_low_m", "past_zero_high_m", "left_m", "left_low_m", "left_high_m", "left_kwh"],
        ...rungs.map(({ id, row, entry }) => [id, ladders[row]?.name.trim(), entry.kind, entry.class, ...three(entry.past_zero_m), ...three(entry.left_m), three(entry.left_kwh)[0]])],
    });
  }

  return { ...plot, update };
}

/** Hollow signs are larger and lie behind, so that one at the same place shows in it. @template {{ sign: unknown[] }} T @param {T[]} rungs @returns {T[]} */
function inFront(rungs) {
  return [...rungs].sort((a, b) => Number(b.sign[3]) - Number(a.sign[3]));
}
