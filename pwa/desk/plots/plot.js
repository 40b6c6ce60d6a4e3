// @ts-check
/**
 * A plot of some dozens of points, drawn as SVG: what is saved is what was seen. One stop of the
 * keyboard; the arrow keys go from point to point as the pointer does.
 */
import { formatNumber } from "../../shared/units.js";
import { loadD3 } from "../charts/d3-loader.js";
import { el, svg } from "../page/dom.js";
import { label, line } from "./marks.js";
import { csv, fileName, saveAs } from "../page/files.js";
import { png, svgDocument } from "./save.js";

/** @typedef {(value: number) => number} Scale */
/** @typedef {{ title: string, range: [number, number], rows?: undefined } | { title: string, rows: string[], range?: undefined }} Axis rows: one below the other */
/** @typedef {{ x: Scale, y: Scale, left: number, right: number, top: number, bottom: number }} Place in pixels */
/** @typedef {{ id: string, x: number, y: number, words: string }} Point in the axes' units; y counts rows from 0 */
/**
 * @typedef {object} Panel
 * @property {{ title: string, range: [number, number] }} x
 * @property {Axis} y
 * @property {(place: Place, focused: string | null) => SVGElement[]} draw
 * @property {Point[]} points
 */
/**
 * @typedef {object} Content
 * @property {Panel[]} panels side by side on one vertical axis where they have rows
 * @property {(string | number | null | undefined)[][]} table
 * @property {import("./save.js").Key[]} [legend]
 * @property {string} [empty] what stands there instead
 * @property {boolean} [waiting] more is to come: the place is kept
 * @property {string} source what it was made by
 */

const ROW = 26;
const TOP = 12;
const BOTTOM = 46;
const RIGHT = 20;
const NEAR = 28;

/**
 * @param {object} options
 * @param {string} options.name of its files
 * @param {string} options.title
 * @param {string} options.note
 * @param {number} [options.height] of the panel; with rows it follows from these
 * @param {import("./focus.js").Focus} options.focus
 * @param {() => string} options.whose what its files are of: a campaign, two cars
 * @param {Node[]} [options.controls]
 */
export function createPlot({ name, title, note, height = 330, focus, whose, controls = [] }) {
  const drawn = svg("svg", { class: "plot-drawn", "aria-hidden": "true", "font-family": "Helvetica, Arial, sans-serif" });
  const face = el("div", {
    class: "plot-face", role: "slider", tabindex: 0, "aria-label": `${title}: points`, "aria-valuemin": 0, "aria-valuemax": 0, "aria-valuenow": 0,
    "aria-valuetext": "none chosen", onkeydown: byKey, onpointermove: byPointer, onpointerdown: byPointer, onblur: leave,
    onpointerleave: ({ pointerType }) => pointerType !== "touch" && leave(), // a finger lifts, and its reader looks
  }, drawn);
  const readout = el("p", { class: "plot-readout" }, "\u00a0");
  const noteLine = el("p", { class: "plot-note" }, note);
  const legend = el("div", { class: "plot-legend" });
  const empty = el("p", { class: "empty", hidden: true });
  const trouble = el("p", { class: "form-status-alarm", role: "status", hidden: true });
  const saving = el("div", { class: "plot-save", role: "group", "aria-label": `Save \u201c${title}\u201d` },
    ...[["SVG", saveSvg], ["PNG", savePng], ["CSV", saveCsv]].map(([words, save]) =>
      el("button", { type: "button", class: "quiet small", "aria-label": `${words} of \u201c${title}\u201d`, onclick: /** @type {() => void} */ (save) }, String(words))));
  const element = el("figure", { class: "plot", "data-plot": name },
    el("div", { class: "plot-head" }, el("h3", {}, title), ...controls, saving), noteLine, legend, empty, face, readout, trouble);

  /** @type {D3 | null} */
  let d3 = null;
  /** @type {Content | null} */
  let content = null;
  /** @type {{ panel: number, point: Point, px: number, py: number }[]} */
  let spots = [];
  let at = -1;
  let [wide, high] = [0, 0];

  async function update(/** @type {Content} */ next) {
    content = next;
    empty.textContent = next.empty ?? "";
    empty.hidden = !next.empty;
    for (const part of [face, readout, saving, legend]) part.hidden = Boolean(next.empty);
    element.style.minHeight = next.waiting ? `${height + TOP + BOTTOM + 110}px` : "";
    legend.replaceChildren(...(next.legend ?? []).map(({ sign, words }) => el("span", { class: "plot-key" }, svg("svg", { width: 28, height: 16, viewBox: "0 0 28 16", "aria-hidden": "true" }, sign), words)));
    at = -1;
    try {
      d3 ??= await loadD3();
    } catch (error) {
      trouble.hidden = false;
      trouble.textContent = `${error instanceof Error ? error.message : error} The tables are complete without it.`;
    }
    paint();
  }

  function paint() {
    if (!content || content.empty || !d3 || wide < 40) return;
    const composed = compose(focus.at(), wide);
    spots = composed.spots;
    high = composed.high;
    drawn.setAttribute("viewBox", `0 0 ${wide} ${high}`);
    face.style.height = `${high}px`;
    drawn.replaceChildren(...composed.parts);
    if (spots[at]?.point.id !== focus.at()) at = -1;
    face.setAttribute("aria-valuemax", String(Math.max(0, spots.length - 1)));
    element.dataset.drawn = String(Number(element.dataset.drawn ?? 0) + 1);
    ring();
  }

  /** @param {string | null} focused @param {number} width */
  function compose(focused, width) {
    /** @type {SVGElement[]} */
    const parts = [];
    /** @type {typeof spots} */
    const found = [];
    if (!content) return { parts, spots: found, high: 0 };
    const rows = content.panels[0]?.y.rows;
    const tall = rows ? rows.length * ROW : height;
    const left = rows ? Math.min(14 + 6.4 * Math.max(...rows.map(({ length }) => length)), width * 0.3) : 54;
    const gap = 26;
    const each = (width - left - RIGHT - gap * (content.panels.length - 1)) / content.panels.length;
    content.panels.forEach((panel, i) => {
      const from = left + i * (each + gap);
      const x = d3?.scaleLinear().domain(panel.x.range).range([from, from + each]);
      if (!x || !d3) return;
      /** @type {Scale} */
      let y;
      if (panel.y.rows) y = (row) => TOP + (row + 0.5) * ROW;
      else y = d3.scaleLinear().domain(panel.y.range).range([TOP + tall, TOP]);
      const place = { x, y, left: from, right: from + each, top: TOP, bottom: TOP + tall };
      parts.push(...axes(d3, panel, place, i === 0), ...panel.draw(place, focused));
      found.push(...panel.points.map((point) => ({ panel: i, point, px: x(point.x), py: y(point.y) })));
    });
    return { parts, spots: found, high: TOP + tall + BOTTOM };
  }

  /** Where the reader is. */
  function ring() {
    drawn.querySelector(".plot-ring")?.remove();
    const spot = spots[at];
    if (spot) drawn.append(svg("circle", { class: "plot-ring", cx: spot.px, cy: spot.py, r: 9, fill: "none", stroke: "var(--tide)", "stroke-width": 2 }));
    readout.textContent = spot?.point.words ?? "\u00a0";
    face.setAttribute("aria-valuenow", String(Math.max(0, at)));
    face.setAttribute("aria-valuetext", spot?.point.words ?? "none chosen");
  }

  function leave() {
    if (at >= 0) focus.set(null);
  }

  /** @param {number} next */
  function go(next) {
    const spot = spots[next];
    if (!spot || next === at) return;
    at = next;
    focus.set(spot.point.id);
    ring();
  }

  /** @param {KeyboardEvent} event */
  function byKey(event) {
    const last = spots.length - 1;
    /** @type {Record<string, number>} */
    const ways = { ArrowRight: Math.min(last, at + 1), ArrowDown: Math.min(last, at + 1), ArrowLeft: Math.max(0, at - 1), ArrowUp: Math.max(0, at - 1), Home: 0, End: last };
    const next = ways[event.key];
    if (next === undefined) return;
    event.preventDefault();
    go(next);
  }

  /** @param {PointerEvent} event */
  function byPointer(event) {
    const box = drawn.getBoundingClientRect();
    const [px, py] = [event.clientX - box.left, event.clientY - box.top];
    let [best, off] = [-1, NEAR];
    spots.forEach((spot, i) => {
      const away = Math.hypot(spot.px - px, spot.py - py);
      if (away < off) [best, off] = [i, away];
    });
    if (best >= 0) go(best);
  }

  /** @param {number} [width] @returns {import("./save.js").Picture} without a sign of where the reader is */
  function picture(width = wide) {
    const clean = /** @type {SVGElement} */ (drawn.cloneNode());
    const { parts, high: height } = compose(null, width);
    clean.setAttribute("viewBox", `0 0 ${width} ${height}`);
    clean.replaceChildren(...parts);
    return { drawn: clean, width, height, title, note: noteLine.textContent ?? "", legend: content?.legend ?? [], source: content?.source ?? "" };
  }
  function saveSvg() {
    saveAs(`${fileName(whose(), name)}.svg`, svgDocument(picture()), "image/svg+xml");
  }
  function saveCsv() {
    if (content) saveAs(`${fileName(whose(), name)}.csv`, csv(content.table));
  }
  async function savePng() {
    trouble.hidden = true;
    try {
      saveAs(`${fileName(whose(), name)}.png`, await png(picture()));
    } catch (error) {
      trouble.hidden = false;
      trouble.textContent = `Not saved: ${error instanceof Error ? error.message : error}`;
    }
  }

  new ResizeObserver(([entry]) => {
    const now = Math.round(entry?.contentRect.width ?? 0);
    if (Math.abs(now - wide) < 1) return;
    wide = now;
    paint();
  }).observe(element);
  focus.follow(paint);

  return {
    element, update, title,
    /** @param {string} words */
    say: (words) => void (noteLine.textContent = words),
    /** @param {number} width @returns {string | null} for a report, which says itself what a saved picture's foot does */
    svg: (width) => (content && !content.empty && d3 ? svgDocument({ ...picture(width), source: undefined }) : null),
  };
}

/**
 * @param {D3} d3
 * @param {Panel} panel
 * @param {Place} place
 * @param {boolean} first whether it has the vertical axis' words
 * @returns {SVGElement[]}
 */
function axes(d3, panel, { x, y, left, right, top, bottom }, first) {
  const soft = { fill: "var(--ink-soft)", "font-size": 11 };
  const along = /** @type {number[]} */ (d3.scaleLinear().domain(panel.x.range).range([left, right]).ticks(Math.max(2, Math.round((right - left) / 90))));
  const upright = [
    line([[left, bottom, right, bottom]], "var(--edge)", 1),
    ...along.flatMap((tick) => [line([[x(tick), bottom, x(tick), bottom + 4]], "var(--edge)", 1),
      label(x(tick), bottom + 16, figures(along)(tick), { ...soft, "text-anchor": "middle" })]),
    label((left + right) / 2, bottom + 35, panel.x.title, { ...soft, "text-anchor": "middle" }),
  ];
  if (panel.y.rows) {
    return [...upright, ...along.map((tick) => line([[x(tick), top, x(tick), bottom]], "var(--rule)", 0.7)),
      ...(first ? panel.y.rows.map((words, row) => label(left - 10, y(row) + 4, fitting(words, left - 12), { "text-anchor": "end", "font-size": 12 })) : [])];
  }
  const ticks = /** @type {number[]} */ (d3.scaleLinear().domain(panel.y.range).range([bottom, top]).ticks(Math.max(2, Math.round((bottom - top) / 56))));
  return [...upright,
    ...ticks.flatMap((tick) => [line([[left, y(tick), right, y(tick)]], tick === 0 ? "var(--edge)" : "var(--rule)", 0.8),
      label(left - 8, y(tick) + 4, figures(ticks)(tick), { ...soft, "text-anchor": "end" })]),
    svg("text", { ...soft, transform: `translate(${left - 40},${(top + bottom) / 2}) rotate(-90)`, "text-anchor": "middle" }, panel.y.title)];
}

/** @param {string} words @param {number} pixels */
function fitting(words, pixels) {
  const most = Math.max(4, Math.floor(pixels / 6.2));
  return words.length <= most ? words : `${words.slice(0, most - 1)}\u2026`;
}

/** @param {readonly number[]} ticks @returns {(value: number) => string} no two ticks alike */
function figures(ticks) {
  const [first = 0, second = 1] = ticks;
  const decimals = Math.max(0, -Math.floor(Math.log10(Math.abs(second - first) * (1 + 1e-9))));
  return (value) => formatNumber(value, decimals);
}

/**
 * The range that holds some figures, with room around.
 * @param {(number | null | undefined)[]} values
 * @param {number} [most] an end that it must reach
 * @returns {[number, number]}
 */
export function rangeOf(values, most) {
  const known = values.filter((value) => typeof value === "number" && Number.isFinite(value)).map(Number);
  if (most !== undefined) known.push(most);
  if (known.length === 0) return [0, 1];
  const [low, high] = [Math.min(...known), Math.max(...known)];
  const room = (high - low || Math.abs(high) || 1) * 0.06;
  return [low === most ? low : low - room, high === most ? high : high + room];
}
