// @ts-check
/**
 * The track on plain paper: local metres about its middle (equirectangular, good to 0.1 % over a
 * course of some kilometres), equal aspect, no tiles. Coloured in steps, one path a step.
 */
import { METRES_PER_MILE, formatPlain, formatQuantity } from "../../shared/units.js";
import { EVENTS, eventName } from "../../shared/vocabulary.js";
import { el, svg } from "../page/dom.js";
import { placeOn } from "../session/curves.js";

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {import("../../shared/units.js").Units} Units */
/** @typedef {{ x: number, y: number }} Pixel */

const STEPS = 20;
const MARGIN = 26;
const METRES_PER_DEGREE = 111_195; // mean sphere of 6371.0088 km (IUGG)

/**
 * @param {import("../session/cursor.js").Cursor} cursor
 */
export function createMap(cursor) {
  /** @type {Model | null} */
  let model = null;
  /** @type {Units | null} */
  let units = null;
  /** @type {"progress" | "speed"} */
  let colouring = "speed"; // laps lie on each other: only speed shows more than the last one
  /** @type {(Pixel | null)[]} */
  let pixels = [];

  const drawing = svg("svg", { role: "img", "aria-label": "Map of the track" });
  const legend = el("div", { class: "map-legend" });
  const choice = el("fieldset", { class: "segments" },
    el("legend", { class: "visually-hidden" }, "Colour of the track"),
    .../** @type {const} */ ([["speed", "Speed"], ["progress", "Progress"]]).map(([name, words]) => el("label", {},
      el("input", {
        type: "radio", name: "colouring", value: name, checked: name === colouring,
        onchange: () => {
          colouring = name;
          draw();
        },
      }), el("span", {}, words))));
  // a layer of its own: were it part of the drawing, each step would paint the whole track again
  const marker = el("div", { class: "map-cursor", hidden: true });
  const paper = el("div", { class: "map-paper" }, drawing, marker);
  const element = el("div", { class: "map" }, paper, el("div", { class: "map-foot" }, legend, choice));

  function draw() {
    const width = paper.clientWidth;
    const height = paper.clientHeight;
    if (!model || !units || width === 0) return;
    drawing.setAttribute("viewBox", `0 0 ${width} ${height}`);
    const { lat, lon, in_gap: inGap, t_ms: tMs } = model.curves;
    const shown = units;
    const lats = lat.filter((value) => value !== null);
    const lons = lon.filter((value) => value !== null);
    if (lats.length < 2) {
      drawing.replaceChildren(svg("text", { class: "map-words", x: width / 2, y: height / 2, "text-anchor": "middle" }, "No track on record"));
      legend.replaceChildren();
      return;
    }
    const [south, north] = endsOf(lats);
    const [west, east] = endsOf(lons);
    const perLon = METRES_PER_DEGREE * Math.cos((((south + north) / 2) * Math.PI) / 180);
    const spanX = Math.max(1, (east - west) * perLon);
    const spanY = Math.max(1, (north - south) * METRES_PER_DEGREE);
    const scale = Math.min((width - 2 * MARGIN) / spanX, (height - 2 * MARGIN - 16) / spanY);
    const left = (width - spanX * scale) / 2;
    const topEdge = (height - 16 - spanY * scale) / 2;
    pixels = acrossGaps(lat.map((phi, i) => {
      const lambda = lon[i];
      if (phi === null || lambda === null || lambda === undefined) return null;
      return { x: left + (lambda - west) * perLon * scale, y: topEdge + (north - phi) * METRES_PER_DEGREE * scale };
    }), tMs, inGap);

    const scaleOf = colouring === "speed" ? speedScale() : progressScale();
    const paths = Array.from({ length: STEPS + 1 }, () => /** @type {string[]} */ ([]));
    /** @type {string[]} */
    const gaps = [];
    /** @type {number | null} */
    let running = null;
    let from = pixels[0];
    for (let i = 1; i < pixels.length; i += 1) {
      const to = pixels[i];
      if (!from || !to) {
        running = null;
        from = to;
        continue;
      }
      // at 10 Hz most fixes stay within a pixel of the last one drawn: they would show nothing
      if (i < pixels.length - 1 && Math.abs(to.x - from.x) + Math.abs(to.y - from.y) < 1 && !inGap[i]) continue;
      const end = `L${to.x.toFixed(1)} ${to.y.toFixed(1)}`;
      const step = inGap[i] || inGap[i - 1] ? -1 : scaleOf.step(i);
      const target = step < 0 ? gaps : paths[step];
      if (!target) {
        from = to;
        continue;
      }
      if (running !== step) target.push(`M${from.x.toFixed(1)} ${from.y.toFixed(1)}`);
      target.push(end);
      running = step;
      from = to;
    }
    // what came before zero lies at the bottom, the end of the run on top
    const upward = [STEPS, ...Array.from({ length: STEPS }, (_, step) => step)];
    drawing.replaceChildren(
      svg("path", { class: "map-gap", d: gaps.join("") }),
      ...upward.map((step) => svg("path", {
        class: step === STEPS ? "map-track map-before" : "map-track", d: (paths[step] ?? []).join(""),
        style: step === STEPS ? null
          : `stroke: color-mix(in oklab, var(--map-from), var(--map-to) ${Math.round((100 * step) / (STEPS - 1))}%)`,
      })).filter((path) => path.getAttribute("d")),
      ...flags(), scaleBar(scale, width, height, shown), northArrow(width));
    legend.replaceChildren(...scaleOf.legend(shown));
    drawing.setAttribute("aria-label", `Map of the track, ${formatQuantity("distance", model.result.distance.total_m, units)?.text ?? "length not known"}`);
    follow();
  }

  /** Before zero in grey; from zero to the end in steps. Without a zero the whole in steps. */
  function progressScale() {
    const curves = /** @type {Model} */ (model).curves;
    const past = curves.past_zero_m.value;
    const end = endsOf(past.map((value) => value ?? -Infinity))[1];
    const along = end > 0 ? past : curves.distance_m.value;
    const last = end > 0 ? end : Math.max(1, endsOf(along.map((value) => value ?? 0))[1]);
    return {
      /** @param {number} i */
      step: (i) => {
        const value = along[i] ?? -1;
        return value < 0 ? STEPS : Math.min(STEPS - 1, Math.floor((value / last) * STEPS));
      },
      /** @param {Units} shown */
      legend: (shown) => [
        end > 0 && el("span", { class: "map-key-before" }, "before zero"),
        end > 0 ? "0" : "start", el("span", { class: "map-ramp" }), formatPlain("distance", last, shown, 1),
      ].filter((part) => part !== false),
    };
  }

  function speedScale() {
    const speeds = /** @type {Model} */ (model).curves.speed_mps.value;
    // standing before and after the drive would take half of the scale
    const every = Math.ceil(speeds.length / 4000); // enough for the two ends of a scale
    const known = speeds.filter((value, i) => i % every === 0 && value !== null && value > 1).map(Number).sort((a, b) => a - b);
    const low = known[Math.floor(known.length * 0.02)] ?? 0;
    const high = Math.max(low + 0.1, known[Math.floor(known.length * 0.98)] ?? 1);
    return {
      /** @param {number} i */
      step: (i) => Math.min(STEPS - 1, Math.max(0, Math.floor((((speeds[i] ?? low) - low) / (high - low)) * STEPS))),
      /** @param {Units} shown */
      legend: (shown) => [formatPlain("speed", low, shown, 0), el("span", { class: "map-ramp" }), formatPlain("speed", high, shown, 0)],
    };
  }

  /**
   * @param {number} tMs
   * @returns {Pixel | null} where the track, or the dashes across a gap, has it
   */
  function pixelAt(tMs) {
    const place = model && placeOn(model.curves.t_ms, tMs);
    const from = place && pixels[place.before];
    if (!place || !from || !place.share) return from || null;
    const to = pixels[place.before + 1];
    return to ? between(from, to, place.share) : null;
  }

  function flags() {
    /** @type {{ x: number, y: number }[]} */
    const labelled = [];
    const start = pixels.find((place) => place !== null);
    const marks = /** @type {Model} */ (model).events.flatMap(({ record, withdrawn, atMs }) => {
      const place = withdrawn ? null : pixelAt(atMs);
      if (!place) return [];
      const strong = EVENTS[record.kind]?.landmark !== undefined;
      /** @type {SVGElement[]} */
      const parts = [svg("path", {
        class: strong ? "map-flag map-flag-strong" : "map-flag",
        d: strong ? `M${place.x} ${place.y}v-15h9l-3 3.5 3 3.5h-9` : `M${place.x - 3} ${place.y}l3 -3 3 3 -3 3z`,
      }, svg("title", {}, eventName(record.kind)))];
      if (strong && labelled.every(({ x, y }) => Math.abs(x - place.x) > 84 || Math.abs(y - place.y) > 14)) {
        labelled.push(place);
        const flip = place.x > paper.clientWidth - 110;
        parts.push(svg("text", { class: "map-words", x: place.x + (flip ? -5 : 12), y: place.y - 6, "text-anchor": flip ? "end" : "start" }, eventName(record.kind)));
      }
      return parts;
    });
    if (!start) return marks;
    const flip = start.x > paper.clientWidth - 44;
    const free = labelled.every(({ x, y }) => Math.abs(x - start.x) > 60 || Math.abs(y - 22 - start.y) > 14);
    return [
      svg("circle", { class: "map-start", cx: start.x, cy: start.y, r: 4.5 }, svg("title", {}, "Start")),
      ...(free ? [svg("text", { class: "map-words", x: start.x + (flip ? -8 : 8), y: start.y + 14, "text-anchor": flip ? "end" : "start" }, "Start")] : []),
      ...marks,
    ];
  }

  /**
   * @param {number} pixelsPerMetre
   * @param {number} width
   * @param {number} height
   * @param {Units} shown
   */
  function scaleBar(pixelsPerMetre, width, height, shown) {
    const unitM = shown.distance === "mi" ? METRES_PER_MILE : 1000;
    const wanted = (width * 0.28) / pixelsPerMetre / unitM;
    const power = 10 ** Math.floor(Math.log10(wanted));
    const nice = [5, 2, 1].map((digit) => digit * power).find((length) => length <= wanted) ?? power;
    const size = nice * unitM * pixelsPerMetre;
    const y = height - 12;
    const words = shown.distance === "km" && nice < 1 ? `${Math.round(nice * 1000)} m` : `${Number(nice.toPrecision(2))} ${shown.distance}`;
    return svg("g", { class: "map-scale" },
      svg("path", { d: `M12 ${y - 5}v5h${size.toFixed(1)}v-5` }),
      svg("text", { class: "map-words", x: 16 + size, y }, words));
  }

  /** @param {number} width */
  function northArrow(width) {
    return svg("g", { class: "map-scale" },
      svg("path", { d: `M${width - 16} 30v-16m-4 5l4 -6 4 6` }),
      svg("text", { class: "map-words", x: width - 16, y: 43, "text-anchor": "middle" }, "N"));
  }

  function follow() {
    const tMs = cursor.at();
    const place = tMs === null ? null : pixelAt(tMs);
    marker.hidden = !place;
    if (place) marker.style.transform = `translate(${place.x.toFixed(1)}px, ${place.y.toFixed(1)}px)`;
  }

  cursor.follow(follow);
  let drawnWidth = 0;
  new ResizeObserver(() => {
    if (paper.clientWidth === drawnWidth) return;
    drawnWidth = paper.clientWidth;
    draw();
  }).observe(paper);

  return {
    element,
    /**
     * @param {Model} nextModel
     * @param {Units} nextUnits
     */
    update(nextModel, nextUnits) {
      model = nextModel;
      units = nextUnits;
      draw();
    },
  };
}

/**
 * @param {number[]} values
 * @returns {[number, number]} lowest and highest
 */
function endsOf(values) {
  let low = Infinity;
  let high = -Infinity;
  for (const value of values) {
    if (value < low) low = value;
    if (value > high) high = value;
  }
  return [low, high];
}

/**
 * The places with those within a gap, which nobody saw, put on the straight line across it.
 * @param {(Pixel | null)[]} pixels
 * @param {number[]} tMs
 * @param {boolean[]} inGap
 */
function acrossGaps(pixels, tMs, inGap) {
  const all = [...pixels];
  for (let i = 1; i < all.length; i += 1) {
    const from = all[i - 1];
    if (all[i] || !from || !inGap[i]) continue;
    let next = i + 1;
    while (next < all.length && !all[next]) next += 1;
    const to = all[next];
    if (!to) break;
    const [began, at, ends] = [tMs[i - 1] ?? 0, tMs[i] ?? 0, tMs[next] ?? 0];
    all[i] = between(from, to, (at - began) / (ends - began));
  }
  return all;
}

/** @param {Pixel} from @param {Pixel} to @param {number} share @returns {Pixel} */
function between(from, to, share) {
  return { x: from.x + share * (to.x - from.x), y: from.y + share * (to.y - from.y) };
}
