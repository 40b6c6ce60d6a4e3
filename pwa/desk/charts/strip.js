// @ts-check
/**
 * A strip: panels stacked on one horizontal axis, with one cursor through all of them. D3 gives
 * scales, axes and shapes; curves are drawn on one canvas, so that a view of 72,000 fixes can
 * follow the hand. Cursor and dots lie above it and never make it draw again.
 */
import { formatNumber } from "../../shared/units.js";
import { el, svg } from "../page/dom.js";
import { themeTokens } from "../page/theme.js";
import { loadD3 } from "./d3-loader.js";
import { createFlags } from "./flags.js";
import { takeInHand } from "./hand.js";
import { drawLayer } from "./layers.js";

/** @typedef {{ id: string, height: number }} Panel */
/**
 * @typedef {object} Axis
 * @property {string} key the same key keeps the part of the axis in view when redrawn
 * @property {"date" | "number"} kind dates are milliseconds, shown as UTC
 * @property {[number, number]} range the whole of it
 * @property {string} title
 */
/** @typedef {{ from: number, to: number, label: string }} Span */
/** @typedef {{ x: number | null, dots: (number | null)[] }} Mark position in axis units; one dot a panel */
/**
 * @typedef {object} Drawing
 * @property {Axis} axis
 * @property {import("./layers.js").Layer[]} layers
 * @property {(from: number, to: number) => [number, number][]} ranges vertical range of each
 *   panel for the part of the axis in view
 * @property {import("./flags.js").Flag[]} flags
 * @property {Span[]} spans
 * @property {(string | null)[]} notes what stands in a panel that has nothing to draw
 */
/**
 * @typedef {object} Strip
 * @property {HTMLElement} element
 * @property {HTMLElement[]} titles one a panel, for words and controls
 * @property {(drawing: Drawing) => Promise<void>} draw
 * @property {(mark: Mark, words: string) => void} mark move the cursor; words for screen readers
 * @property {(x: number | null, words: string) => void} point what a pointer is on while the cursor is held
 * @property {(range: [number, number] | null) => void} show part of the axis; null for the whole
 * @property {(factor: number, about?: number) => void} zoom below 1 shows less, about the cursor
 * @property {() => [number, number]} view the part of the axis in view
 */

const LEFT = 52;
const RIGHT = 18;
const TITLE = 30;
const BOTTOM = 44;

/**
 * @param {object} options
 * @param {string} options.label for screen readers
 * @param {Panel[]} options.panels
 * @param {number} options.top pixels kept above the first panel for flags
 * @param {(x: number, hold: boolean) => void} options.onSeek in axis units
 * @param {(step: "previous" | "next") => void} [options.onLeap] to a neighbouring event
 * @param {(id: string | null) => void} [options.onFlag] an event's flag; null: what is at the cursor
 * @param {() => void} [options.onRelease]
 * @param {() => void} [options.onLeave] no pointer is on it any more
 * @returns {Strip}
 */
export function createStrip({ label, panels, top, onSeek, onLeap, onFlag, onRelease, onLeave }) {
  /** @type {{ top: number, height: number }[]} */
  const places = [];
  let below = top;
  for (const { height } of panels) {
    places.push({ top: below + TITLE, height });
    below += TITLE + height;
  }
  const plotBottom = below;
  const total = below + BOTTOM;

  const canvas = el("canvas", { class: "strip-canvas", "aria-hidden": "true" });
  const axes = svg("svg", { class: "strip-axes", "aria-hidden": "true" });
  const valueAxes = places.map(({ top: y }) => svg("g", { class: "strip-axis strip-axis-value", transform: `translate(${LEFT},${y})` }));
  const runAxis = svg("g", { class: "strip-axis strip-axis-run", transform: `translate(0,${plotBottom})` });
  const axisTitle = svg("text", { class: "strip-axis-title", y: total - 6, "text-anchor": "middle" });
  axes.append(...valueAxes, runAxis, axisTitle);
  const sweep = el("div", { class: "strip-sweep", hidden: true });
  const hair = el("div", { class: "strip-hair", hidden: true });
  const tip = el("p", { class: "strip-tip" });
  const aside = el("div", { class: "strip-aside", "aria-hidden": "true", hidden: true }, tip);
  for (const upright of [sweep, hair, aside]) {
    upright.style.top = `${top}px`;
    upright.style.height = `${plotBottom - top}px`;
  }
  const dots = panels.map(({ id }) => el("div", { class: `strip-dot strip-dot-${id}`, hidden: true }));
  const face = el("div", {
    class: "strip-face", role: "slider", tabindex: 0, "aria-label": label,
    "aria-valuemin": 0, "aria-valuemax": 100, "aria-valuenow": 0, "aria-valuetext": "not placed yet",
  }, axes, canvas, sweep, hair, aside, ...dots);
  face.addEventListener("pointerleave", () => onLeave?.());
  const titles = places.map(({ top: y }) => {
    const title = el("div", { class: "strip-title" });
    title.style.top = `${y - TITLE + 8}px`;
    return title;
  });
  const notes = places.map(({ top: y, height }) => {
    const note = el("p", { class: "strip-note" });
    note.style.top = `${y}px`;
    note.style.height = `${height}px`;
    return note;
  });
  const flags = createFlags(top, (id) => onFlag?.(id));
  const waiting = el("p", { class: "strip-waiting" }, "Fetching the run\u2026");
  const element = el("div", { class: "strip" }, face, flags.element, ...titles, ...notes, waiting);
  element.style.height = `${total}px`;

  /** @type {D3 | null} */
  let d3 = null;
  /** @type {Drawing | null} */
  let drawing = null;
  /** @type {[number, number]} */
  let view = [0, 1];
  /** @type {[number, number][]} */
  let ranges = [];
  /** @type {Mark} */
  let marked = { x: null, dots: [] };
  let words = "";
  let pending = false;
  /** asked for once a drawing, not once a frame @type {import("../page/theme.js").Tokens} */
  let tokens;
  let textFace = "";

  let wide = 0; // kept, since asking the page for it while drawing would lay it out again and again
  const width = () => Math.max(80, wide - LEFT - RIGHT);
  /** @param {number} x */
  const toPixel = (x) => LEFT + ((x - view[0]) / (view[1] - view[0])) * width();

  function placeMark() {
    const { x } = marked;
    const inView = x !== null && drawing !== null && x >= view[0] && x <= view[1];
    hair.hidden = !inView;
    const pixel = inView ? toPixel(x) : 0;
    hair.style.transform = `translateX(${pixel}px)`;
    dots.forEach((dot, i) => {
      const value = marked.dots[i];
      const range = ranges[i];
      const place = places[i];
      const known = inView && typeof value === "number" && range && place && value >= range[0] && value <= range[1];
      dot.hidden = !known;
      if (known) dot.style.transform = `translate(${pixel}px, ${place.top + place.height * (1 - (value - range[0]) / (range[1] - range[0]))}px)`;
    });
    if (drawing && x !== null) {
      const [low, high] = drawing.axis.range;
      face.setAttribute("aria-valuenow", String(Math.min(100, Math.max(0, Math.round(((x - low) / (high - low)) * 1000) / 10))));
      face.setAttribute("aria-valuetext", words);
    }
  }

  /** Everything but the cursor, for the part in view; once a frame at most. */
  function paint() {
    pending = false;
    const ink = canvas.getContext("2d");
    if (!drawing || !d3 || !ink || wide === 0) return;
    const columns = Math.round(width());
    const dense = window.devicePixelRatio || 1;
    if (canvas.width !== Math.round(wide * dense) || canvas.height !== Math.round(total * dense)) {
      canvas.width = Math.round(wide * dense);
      canvas.height = Math.round(total * dense);
    }
    ink.setTransform(dense, 0, 0, dense, 0, 0);
    ink.clearRect(0, 0, wide, total);
    axes.setAttribute("viewBox", `0 0 ${wide} ${total}`);
    ranges = drawing.ranges(view[0], view[1]);
    const x = (drawing.axis.kind === "date" ? d3.scaleUtc() : d3.scaleLinear()).domain(view).range([LEFT, LEFT + columns]);

    drawSpans(ink, drawing.spans, tokens.amber, tokens["amber-wash"]);
    for (const [i, place] of places.entries()) {
      const y = d3.scaleLinear().domain(ranges[i] ?? [0, 1]).range([place.height, 0]);
      const empty = Boolean(drawing.notes[i]);
      const axis = valueAxes[i];
      const wanted = empty ? 0 : Math.max(2, Math.round(place.height / 38));
      if (axis) d3.select(axis).call(d3.axisLeft(y).ticks(wanted).tickSizeInner(-columns).tickSizeOuter(0).tickPadding(7).tickFormat(figures(y.ticks(wanted))));
      ink.save();
      ink.beginPath();
      ink.rect(LEFT, place.top - 6, columns, place.height + 8);
      ink.clip();
      ink.translate(0, place.top);
      for (const layer of drawing.layers) if (layer.panel === i) drawLayer(d3, ink, layer, { x, y, view, columns, ground: tokens.sheet });
      ink.restore();
    }
    const span = view[1] - view[0];
    const along = Math.max(3, Math.round(columns / 110));
    const run = d3.axisBottom(x).ticks(along).tickSizeOuter(0).tickPadding(6);
    run.tickFormat(drawing.axis.kind === "date" ? d3.utcFormat(span < 8 * 60_000 ? "%H:%M:%S" : "%H:%M") : figures(x.ticks(along)));
    d3.select(runAxis).call(run);
    axisTitle.setAttribute("x", String(LEFT + columns / 2));
    axisTitle.textContent = drawing.axis.title;
    flags.draw(ink, drawing.flags.filter((flag) => flag.x >= view[0] && flag.x <= view[1]), toPixel, {
      width: wide, bottom: plotBottom, colours: { plain: tokens.edge, strong: tokens.tide, alarm: tokens.alarm },
    });
    placeMark();
    element.dataset.drawn = String(Number(element.dataset.drawn ?? 0) + 1);
  }

  /** @param {readonly (number | Date)[]} ticks @returns {(value: number) => string} with a true minus, no two ticks alike */
  function figures(ticks) {
    const [first, second] = ticks.map(Number);
    if (first === undefined || second === undefined) return (value) => formatNumber(value, (String(value).split(".")[1] ?? "").length);
    const decimals = Math.max(0, -Math.floor(Math.log10(Math.abs(second - first) * (1 + 1e-9))));
    return (value) => formatNumber(value, decimals);
  }

  /** @param {CanvasRenderingContext2D} ink @param {Span[]} spans @param {string} colour @param {string} wash */
  function drawSpans(ink, spans, colour, wash) {
    for (const span of spans) {
      const from = Math.max(LEFT, toPixel(span.from));
      const to = Math.min(LEFT + width(), toPixel(span.to));
      if (to <= from) continue;
      ink.globalAlpha = 0.6;
      ink.fillStyle = wash;
      ink.fillRect(from, top, to - from, plotBottom - top);
      ink.globalAlpha = 1;
      if (to - from < span.label.length * 6.5 + 8) continue;
      ink.fillStyle = colour;
      ink.font = `italic 12px ${textFace}`;
      ink.fillText(span.label, from + 5, plotBottom - 7);
    }
  }

  function repaint() {
    if (pending) return;
    pending = true;
    requestAnimationFrame(paint);
  }

  /** @param {[number, number] | null} range */
  function show(range) {
    if (!drawing) return;
    const [low, high] = drawing.axis.range;
    const wanted = range ?? [low, high];
    const span = Math.min(high - low, Math.max((high - low) / 5000, wanted[1] - wanted[0]));
    const from = Math.min(Math.max(low, wanted[0]), high - span);
    view = [from, from + span];
    repaint();
  }

  /** @param {number} factor below 1 shows less @param {number} [about] kept in its place */
  function zoom(factor, about) {
    const still = about ?? (marked.x !== null && marked.x >= view[0] && marked.x <= view[1] ? marked.x : (view[0] + view[1]) / 2);
    show([still - (still - view[0]) * factor, still + (view[1] - still) * factor]);
  }

  takeInHand(face, {
    view: () => view, whole: () => drawing?.axis.range ?? view, marked: () => marked.x,
    plot: () => ({ left: LEFT, width: width() }),
    seek: onSeek, show, zoom,
    sweep(from, to) {
      sweep.hidden = from === to;
      sweep.style.transform = `translateX(${Math.min(from, to)}px)`;
      sweep.style.width = `${Math.abs(to - from)}px`;
    },
    press(pixel, y) {
      const id = y < top + TITLE ? flags.near(pixel) : null;
      if (id) onFlag?.(id);
      return id !== null;
    },
    leap: (step) => onLeap?.(step), open: () => onFlag?.(null), release: () => onRelease?.(),
  });

  new ResizeObserver(([entry]) => {
    const now = entry?.contentRect.width ?? 0;
    if (Math.abs(now - wide) < 1) return;
    wide = now;
    repaint();
  }).observe(element);

  return {
    element, titles, show, zoom,
    view: () => view,
    async draw(next) {
      const same = drawing?.axis.key === next.axis.key;
      drawing = next;
      tokens = themeTokens();
      textFace = getComputedStyle(element).fontFamily;
      if (same) show(view); // the whole may have become another
      else view = [...next.axis.range];
      try {
        d3 ??= await loadD3();
      } catch (error) {
        waiting.hidden = false;
        waiting.textContent = `${error instanceof Error ? error.message : error} The figures below are complete without it.`;
        return;
      }
      waiting.hidden = true;
      notes.forEach((note, i) => {
        note.textContent = drawing?.notes[i] ?? "";
      });
      repaint();
    },
    point(x, said) {
      aside.hidden = x === null || !drawing || x < view[0] || x > view[1];
      if (x === null || aside.hidden) return;
      tip.textContent = said;
      aside.style.transform = `translateX(${toPixel(x)}px)`;
      aside.classList.toggle("is-late", toPixel(x) > wide / 2);
    },
    mark(next, said) {
      marked = next;
      words = said;
      placeMark();
    },
  };
}
