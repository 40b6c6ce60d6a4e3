// @ts-check
/**
 * A strip: panels stacked on one horizontal axis, with one cursor through all of them.
 * Plotly draws lines and axes; cursor, dots and flags lie above it as a few elements of our own,
 * so that following the pointer never makes Plotly redraw.
 */
import { el, svg } from "../dom.js";
import { loadPlotly } from "./plotly-loader.js";
import { themeTokens } from "../theme.js";

/** @typedef {{ id: string, height: number }} Panel */
/**
 * @typedef {object} Axis
 * @property {string} key the same key keeps the part of the axis in view when redrawn
 * @property {"date" | "number"} kind dates are milliseconds, shown as UTC
 * @property {[number, number]} range the whole of it
 * @property {string} title
 */
/** @typedef {{ x: number, label?: string, tone?: "plain" | "strong" | "alarm" }} Flag */
/** @typedef {{ from: number, to: number, label: string }} Span */
/** @typedef {{ x: number | null, dots: (number | null)[] }} Mark position in axis units; one dot a panel */
/**
 * @typedef {object} Drawing
 * @property {Axis} axis
 * @property {(Record<string, unknown> & { panel: number })[]} traces plotly traces
 * @property {(from: number, to: number) => [number, number][]} ranges vertical range of each
 *   panel for the part of the axis in view
 * @property {Flag[]} flags
 * @property {Span[]} spans
 * @property {(string | null)[]} notes what stands in a panel that has nothing to draw
 */
/**
 * @typedef {object} Strip
 * @property {HTMLElement} element
 * @property {HTMLElement[]} titles one a panel, for words and controls
 * @property {(drawing: Drawing) => Promise<void>} draw
 * @property {(mark: Mark, words: string) => void} mark move the cursor; words for screen readers
 * @property {(range: [number, number] | null) => void} show part of the axis; null for the whole
 * @property {(factor: number) => void} zoom below 1 shows less, about the cursor
 * @property {() => [number, number]} view the part of the axis in view
 */

const LEFT = 52;
const RIGHT = 18;
const TITLE = 30;
const BOTTOM = 44;
const FLAG_ROW = 15;

/**
 * @param {object} options
 * @param {string} options.label for screen readers
 * @param {Panel[]} options.panels
 * @param {number} options.top pixels kept above the first panel for flags
 * @param {(x: number, hold: boolean) => void} options.onSeek in axis units
 * @param {(step: "previous" | "next") => void} [options.onLeap] to a neighbouring event
 * @param {() => void} [options.onRelease]
 * @returns {Strip}
 */
export function createStrip({ label, panels, top, onSeek, onLeap, onRelease }) {
  /** @type {{ top: number, height: number }[]} */
  const places = [];
  let below = top;
  for (const { height } of panels) {
    places.push({ top: below + TITLE, height });
    below += TITLE + height;
  }
  const plotBottom = below;
  const total = below + BOTTOM;

  const plot = el("div", { class: "strip-plot" });
  const spanLayer = svg("svg", { class: "strip-spans", "aria-hidden": "true" });
  const flagLayer = svg("svg", { class: "strip-flags", "aria-hidden": "true" });
  const hair = el("div", { class: "strip-hair", hidden: true });
  hair.style.top = `${top}px`;
  hair.style.height = `${plotBottom - top}px`;
  const dots = panels.map(({ id }) => el("div", { class: `strip-dot strip-dot-${id}`, hidden: true }));
  const face = el("div", {
    class: "strip-face", role: "slider", tabindex: 0, "aria-label": label,
    "aria-valuemin": 0, "aria-valuemax": 100, "aria-valuenow": 0, "aria-valuetext": "not placed yet",
  }, spanLayer, plot, flagLayer, hair, ...dots);
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
  const waiting = el("p", { class: "strip-waiting" }, "Fetching the run\u2026");
  const element = el("div", { class: "strip" }, face, ...titles, ...notes, waiting);
  element.style.height = `${total}px`;

  /** @type {Drawing | null} */
  let drawing = null;
  /** @type {[number, number]} */
  let view = [0, 1];
  /** @type {[number, number][]} */
  let ranges = [];
  /** @type {Mark} */
  let marked = { x: null, dots: [] };
  let words = "";
  let listening = false;

  const width = () => Math.max(80, element.clientWidth - LEFT - RIGHT);
  /** @param {number} x */
  const toPixel = (x) => LEFT + ((x - view[0]) / (view[1] - view[0])) * width();
  /** @param {number} pixel */
  const fromPixel = (pixel) => view[0] + ((pixel - LEFT) / width()) * (view[1] - view[0]);
  /** @param {number | string} end as plotly keeps it */
  const axisNumber = (end) =>
    typeof end === "number" ? end : Date.parse(`${end.replace(" ", "T")}${end.length > 10 ? "Z" : ""}`);

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
      const known = inView && typeof value === "number" && range && place
        && value >= range[0] && value <= range[1];
      dot.hidden = !known;
      if (known) {
        const y = place.top + place.height * (1 - (value - range[0]) / (range[1] - range[0]));
        dot.style.transform = `translate(${pixel}px, ${y}px)`;
      }
    });
    if (drawing && x !== null) {
      const [low, high] = drawing.axis.range;
      const share = Math.round(((x - low) / (high - low)) * 1000) / 10;
      face.setAttribute("aria-valuenow", String(Math.min(100, Math.max(0, share))));
      face.setAttribute("aria-valuetext", words);
    }
  }

  function placeFlags() {
    flagLayer.replaceChildren();
    spanLayer.replaceChildren();
    if (!drawing) return;
    spanLayer.setAttribute("viewBox", `0 0 ${element.clientWidth} ${total}`);
    flagLayer.setAttribute("viewBox", `0 0 ${element.clientWidth} ${total}`);
    for (const span of drawing.spans) {
      const from = Math.max(LEFT, toPixel(span.from));
      const to = Math.min(LEFT + width(), toPixel(span.to));
      if (to <= from) continue;
      spanLayer.append(svg("rect", {
        class: "strip-span", x: from, y: top, width: to - from, height: plotBottom - top,
      }));
      if (span.label && to - from > span.label.length * 6.5 + 8) {
        spanLayer.append(svg("text", { class: "strip-span-label", x: from + 5, y: plotBottom - 7 }, span.label));
      }
    }
    const inView = drawing.flags.filter(({ x }) => x >= view[0] && x <= view[1]);
    for (const { x, tone = "plain" } of inView) {
      const pixel = Math.round(toPixel(x)) + 0.5;
      flagLayer.append(svg("path", {
        class: `strip-flag strip-flag-${tone}`, d: `M${pixel} ${top - 2}V${plotBottom}`,
      }));
    }
    // Rows of labels, the important ones first; one that finds no room is left to the ladder.
    /** @type {[number, number][][]} */
    const taken = Array.from({ length: Math.floor((top - 4) / FLAG_ROW) }, () => []);
    for (const wanted of /** @type {const} */ (["alarm", "strong", "plain"])) {
      for (const { x, label: text, tone = "plain" } of inView) {
        if (tone !== wanted || !text) continue;
        const pixel = toPixel(x);
        const size = text.length * 6.4 + 12;
        const flip = pixel + size > element.clientWidth;
        const [from, to] = flip ? [pixel - size, pixel] : [pixel, pixel + size];
        const row = taken.findIndex((spans) => spans.every(([a, b]) => to <= a || from >= b));
        if (row < 0) continue;
        taken[row]?.push([from, to]);
        const y = top - 6 - row * FLAG_ROW;
        flagLayer.append(
          svg("path", { class: `strip-flag strip-flag-${tone}`, d: `M${Math.round(pixel) + 0.5} ${top - 2}V${y - 10}` }),
          svg("text", {
            class: `strip-flag-label strip-flag-label-${tone}`, x: flip ? pixel - 4 : pixel + 4, y,
            "text-anchor": flip ? "end" : "start",
          }, text));
      }
    }
  }

  function layout() {
    const tokens = themeTokens();
    const hairline = { gridcolor: tokens.rule, zerolinecolor: tokens.edge, linecolor: tokens.rule };
    const font = { family: getComputedStyle(document.body).fontFamily, size: 11.5, color: tokens["ink-soft"] };
    const last = panels.length;
    /** @type {Record<string, unknown>} */
    const axes = {};
    panels.forEach((_, i) => {
      const place = places[i];
      if (!place) return;
      const bottom = 1 - (place.top + place.height - top) / (plotBottom - top);
      axes[i === 0 ? "yaxis" : `yaxis${i + 1}`] = {
        ...hairline, domain: [Math.max(0, bottom), bottom + place.height / (plotBottom - top)],
        range: ranges[i], fixedrange: true, nticks: Math.max(3, Math.round(place.height / 34)),
        zerolinewidth: 1, ticklen: 0, anchor: "x", tickformat: ",~f", showticklabels: !drawing?.notes[i], showgrid: !drawing?.notes[i],
      };
    });
    return {
      width: element.clientWidth, height: total, autosize: false, font,
      margin: { l: LEFT, r: RIGHT, t: top, b: BOTTOM, pad: 0 },
      paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)",
      showlegend: false, hovermode: false, dragmode: coarse() ? false : "zoom",
      xaxis: {
        ...hairline, type: drawing?.axis.kind === "date" ? "date" : "linear", range: view,
        anchor: last === 1 ? "y" : `y${last}`, showgrid: false, zeroline: false, ticks: "outside",
        ticklen: 4, tickcolor: tokens.edge, linecolor: tokens.edge, showline: true,
        title: { text: drawing?.axis.title ?? "", standoff: 8, font: { ...font, size: 11.5 } },
        nticks: Math.max(3, Math.round(width() / 110)),
        tickformatstops: drawing?.axis.kind === "date" ? [
          { dtickrange: [null, 59_999], value: "%H:%M:%S" }, { dtickrange: [60_000, null], value: "%H:%M" },
        ] : undefined,
      },
      ...axes,
    };
  }

  const coarse = () => matchMedia("(pointer: coarse)").matches;

  async function redraw() {
    if (!drawing || element.clientWidth === 0) return;
    const plotly = await loadPlotly();
    if (!drawing) return;
    ranges = drawing.ranges(view[0], view[1]);
    const traces = drawing.traces.map(({ panel, ...trace }) => ({
      hoverinfo: "skip", xaxis: "x", yaxis: panel === 0 ? "y" : `y${panel + 1}`, ...trace,
    }));
    const host = await plotly.react(plot, traces, layout(), { displayModeBar: false, showTips: false, doubleClick: false, showAxisDragHandles: false });
    waiting.hidden = true;
    notes.forEach((note, i) => {
      note.textContent = drawing?.notes[i] ?? "";
    });
    placeFlags();
    placeMark();
    if (listening) return;
    listening = true;
    host.on("plotly_relayout", () => {
      const [from, to] = host.layout.xaxis.range.map(axisNumber);
      if (from === undefined || to === undefined || (from === view[0] && to === view[1])) return;
      show([from, to]);
    });
    host.on("plotly_doubleclick", () => show(null));
  }

  /** @param {[number, number] | null} range */
  function show(range) {
    if (!drawing) return;
    const [low, high] = drawing.axis.range;
    const wanted = range ?? [low, high];
    const span = Math.min(high - low, Math.max((high - low) / 2000, wanted[1] - wanted[0]));
    const from = Math.min(Math.max(low, wanted[0]), high - span);
    view = [from, from + span];
    void redraw();
  }

  /** @param {number} factor below 1 shows less, about the cursor */
  function zoom(factor) {
    const middle = marked.x !== null && marked.x >= view[0] && marked.x <= view[1]
      ? marked.x : (view[0] + view[1]) / 2;
    show([middle - (middle - view[0]) * factor, middle + (view[1] - middle) * factor]);
  }

  face.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !drawing) return;
    const pixel = (view[1] - view[0]) / width();
    const at = marked.x ?? view[0];
    const step = pixel * (event.shiftKey ? 40 : 4);
    /** @type {Record<string, () => void>} */
    const keys = {
      ArrowRight: () => onSeek(Math.min(drawing?.axis.range[1] ?? at, at + step), true),
      ArrowLeft: () => onSeek(Math.max(drawing?.axis.range[0] ?? at, at - step), true),
      Home: () => onSeek(view[0], true),
      End: () => onSeek(view[1], true),
      PageDown: () => onLeap?.("next"),
      PageUp: () => onLeap?.("previous"),
      "+": () => zoom(0.5),
      "-": () => zoom(2),
      "0": () => show(null),
      Escape: () => onRelease?.(),
    };
    const action = keys[event.key];
    if (!action) return;
    event.preventDefault();
    action();
    if (marked.x !== null && (marked.x < view[0] || marked.x > view[1])) {
      const half = (view[1] - view[0]) / 2;
      show([marked.x - half, marked.x + half]);
    }
  });

  /** @param {PointerEvent} event */
  const seekTo = (event, hold = false) => {
    const pixel = event.clientX - element.getBoundingClientRect().left;
    if (pixel < LEFT - 4 || pixel > LEFT + width() + 4) return;
    onSeek(Math.min(view[1], Math.max(view[0], fromPixel(pixel))), hold);
  };
  face.addEventListener("pointermove", (event) => {
    if (event.buttons === 0 || event.pointerType === "touch") seekTo(event);
  });
  face.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    const { clientX, clientY } = event;
    // Plotly lays its own cover over the page while a button is down: the click never reaches us
    window.addEventListener("pointerup", (up) => {
      if (Math.hypot(up.clientX - clientX, up.clientY - clientY) < 4) seekTo(event, true);
    }, { once: true });
  }, { capture: true });

  let drawnWidth = 0;
  new ResizeObserver(() => {
    if (Math.abs(element.clientWidth - drawnWidth) < 1) return;
    drawnWidth = element.clientWidth;
    void redraw();
  }).observe(element);

  return {
    element,
    titles,
    show,
    zoom,
    view: () => view,
    async draw(next) {
      const same = drawing?.axis.key === next.axis.key;
      drawing = next;
      if (!same) view = [...next.axis.range];
      try {
        await redraw();
      } catch (error) {
        waiting.hidden = false;
        waiting.textContent = `${error instanceof Error ? error.message : error} The figures below are complete without it.`;
      }
    },
    mark(next, said) {
      marked = next;
      words = said;
      placeMark();
    },
  };
}
