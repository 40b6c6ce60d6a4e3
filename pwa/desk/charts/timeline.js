// @ts-check
/** The timeline: speed, energy, displayed % and the display's own figures on one axis, one cursor. */
import { convert, formatNumber, formatQuantity, METRES_PER_MILE, unitOf } from "../../shared/units.js";
import { EVENT_NAMES, READING_KINDS, eventName, readingName, unitName } from "../../shared/vocabulary.js";
import { indexAt, nearestIndex, quantityAt, valueAt } from "./curves.js";
import { el } from "../dom.js";
import { displayBounds, displayedSoc, tripEnergyPastZero } from "../model.js";
import { createStrip } from "./strip.js";
import { themeTokens } from "../theme.js";
import { bandTraces, converted, displayTraces, rangeOf, stepTraces } from "./timeline-traces.js";

/** @typedef {import("../model.js").Model} Model */
/** @typedef {import("../../shared/units.js").Units} Units */
/** @typedef {import("./curves.js").AxisName} AxisName */

const PANELS = [
  { id: "speed", height: 132 }, { id: "energy", height: 168 },
  { id: "soc", height: 62 }, { id: "display", height: 84 },
];
const STRONG = new Set(["zero_soc", "zero_range", "plug_in", "trip_reset", "speed_capped"]);
const ALARM = new Set(["propulsion_off", "standstill", "contactors_open"]);

/**
 * @param {import("../cursor.js").Cursor} cursor
 */
export function createTimeline(cursor) {
  /** @type {Model | null} */
  let model = null;
  /** @type {Units | null} */
  let units = null;
  /** @type {AxisName} */
  let axis = "time";
  /** @type {(number | null)[]} */
  let xs = [];
  /** positions of the curve that have a place on the axis, and their indices @type {number[]} */
  let known = [];
  /** @type {number[]} */
  let knownIndex = [];
  /** @type {{ atMs: number, soc: number }[]} */
  let soc = [];
  let shownQuantity = "";

  const strip = createStrip({
    label: "Moment on the timeline", panels: PANELS, top: 36,
    onSeek: (x, hold) => {
      const tMs = momentAt(x);
      if (tMs !== null) (hold ? cursor.hold : cursor.hover)(tMs);
    },
    onLeap: (step) => {
      const now = cursor.at() ?? -Infinity;
      const rows = model?.events.filter(({ withdrawn }) => !withdrawn) ?? [];
      const next = step === "next"
        ? rows.find(({ atMs }) => atMs > now + 1) : rows.filter(({ atMs }) => atMs < now - 1).at(-1);
      if (next) cursor.hold(next.atMs);
    },
    onRelease: cursor.release,
  });
  const [speedTitle, energyTitle, socTitle, displayTitle] = strip.titles;
  const quantityChoice = el("select", {
    class: "quiet-select", "aria-label": "Display figure drawn",
    onchange: () => {
      shownQuantity = quantityChoice.value;
      draw();
    },
  });
  const displayUnit = el("span", { class: "strip-unit" });
  displayTitle?.append(quantityChoice, displayUnit);

  /** @type {[AxisName, string][]} */
  const axes = [["time", "Clock"], ["distance", "Distance"], ["past_zero", "Past zero"]];
  const axisChoice = el("fieldset", { class: "segments" },
    el("legend", { class: "visually-hidden" }, "Horizontal axis"),
    ...axes.map(([name, words]) => el("label", {},
      el("input", {
        type: "radio", name: "axis", value: name, checked: name === axis,
        onchange: () => {
          axis = name;
          draw();
        },
      }), el("span", {}, words))));
  const fromZero = el("button", { type: "button", class: "quiet", onclick: showFromZero }, "From zero on");
  const zooms = el("div", { class: "button-row" },
    el("button", { type: "button", class: "quiet", onclick: () => strip.show(null) }, "Whole run"), fromZero,
    el("button", { type: "button", class: "quiet", "aria-label": "Show less of the run", title: "Zoom in", onclick: () => strip.zoom(0.5) }, "+"),
    el("button", { type: "button", class: "quiet", "aria-label": "Show more of the run", title: "Zoom out", onclick: () => strip.zoom(2) }, "\u2212"));
  const tableHost = el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "Figures behind the charts" });
  const behind = el("details", { class: "behind", ontoggle: () => fillTable() },
    el("summary", {}, "Figures behind the charts"), tableHost);
  const element = el("div", { class: "timeline" },
    el("div", { class: "timeline-bar" }, axisChoice, zooms),
    strip.element,
    el("div", { class: "timeline-foot" }, behind,
      el("p", { class: "hint" }, "Bands are 95 % intervals, bars what a display can have meant. Drag to zoom, click to hold the cursor. Keys: \u2190 \u2192 move it, Page Up and Down go to events, + \u2212 0 zoom, Esc lets go.")));

  /**
   * @param {number} x in axis units
   * @returns {number | null} session time
   */
  function momentAt(x) {
    if (!model) return null;
    if (axis === "time") return Math.round(x - model.clock.offsetMs(x));
    const near = nearestIndex(known, x);
    const index = knownIndex[near];
    return index === undefined ? null : (model.curves.t_ms[index] ?? null);
  }

  /**
   * @param {number} tMs
   * @returns {number | null} place on the axis
   */
  function placeOf(tMs) {
    if (!model || !units) return null;
    if (axis === "time") return tMs + model.clock.offsetMs(tMs);
    const column = axis === "distance" ? model.curves.distance_m : model.curves.past_zero_m;
    const metres = valueAt(model.curves.t_ms, column.value, tMs);
    return metres === null ? null : convert("distance", metres, units);
  }

  function showFromZero() {
    if (!model) return;
    const zero = model.result.zero.t_ms;
    const end = model.events.find(({ record, withdrawn }) => !withdrawn && record.kind === model?.result.reserve.ends_at);
    const from = zero === null ? null : placeOf(zero);
    const last = known[known.length - 1];
    const to = end ? (placeOf(end.atMs) ?? last) : last;
    if (from === null || to === undefined) return;
    const margin = Math.abs(to - from) * 0.04;
    strip.show([from - margin, to + margin]);
  }

  function draw() {
    if (!model || !units) return;
    const { curves, clock } = model;
    const shown = units;
    const pairs = axis === "time" ? null
      : converted((axis === "distance" ? curves.distance_m : curves.past_zero_m).value, "distance", units);
    xs = pairs ?? curves.t_ms.map((tMs) => tMs + clock.offsetMs(tMs));
    known = [];
    knownIndex = [];
    xs.forEach((x, i) => {
      if (x === null) return;
      known.push(x);
      knownIndex.push(i);
    });
    const tokens = themeTokens();
    const speed = bandIn(curves.speed_mps, "speed");
    const energy = curves.energy_past_zero_kwh;
    const placed = tripEnergyPastZero(model).flatMap(({ atMs, value, low, high }) => {
      const x = placeOf(atMs);
      return x === null ? [] : [{ x, y: value, low, high }];
    });
    soc = displayedSoc(model);
    const steps = soc.flatMap(({ atMs, soc: y }) => {
      const x = placeOf(atMs);
      return x === null ? [] : [{ x, y }];
    });
    const display = displayPoints(shownQuantity, shown);

    const first = known[0] ?? 0;
    const last = known[known.length - 1] ?? 1;
    const flags = model.events.filter(({ withdrawn }) => !withdrawn).flatMap(({ record, atMs }) => {
      const x = placeOf(atMs);
      return x === null ? [] : [{
        x, label: flagWords(record),
        tone: /** @type {"plain" | "strong" | "alarm"} */ (ALARM.has(record.kind) ? "alarm" : STRONG.has(record.kind) ? "strong" : "plain"),
      }];
    });
    const spans = model.result.distance.gaps.flatMap(({ from_ms: fromMs, to_ms: toMs }) => {
      const [from, to] = [placeOf(fromMs), placeOf(toMs)];
      return from === null || to === null ? [] : [{ from, to, label: "no fixes" }];
    });
    const titles = { time: `clock, ${clock.zone}`, distance: `distance, ${units.distance}`, past_zero: `distance past zero, ${units.distance}` };
    speedTitle?.replaceChildren("Speed", el("span", { class: "strip-unit" }, unitOf("speed", units)));
    energyTitle?.replaceChildren("Energy past zero", el("span", { class: "strip-unit" }, placed.length ? "kWh, with the display\u2019s trip energy" : "kWh"));
    socTitle?.replaceChildren("Displayed", el("span", { class: "strip-unit" }, "%"));

    const columns = {
      display: { x: display.map(({ x }) => x), low: display.map(({ low }) => low), high: display.map(({ high }) => high) },
      placed: { x: placed.map(({ x }) => x), low: placed.map(({ low }) => low), high: placed.map(({ high }) => high) },
    };
    void strip.draw({
      axis: {
        key: `${model.id} ${axis} ${axis === "time" ? "" : units.distance}`,
        kind: axis === "time" ? "date" : "number", title: titles[axis],
        range: [first, last > first ? last : first + 1],
      },
      traces: [
        ...bandTraces(0, xs, speed, tokens["line-speed"]),
        ...bandTraces(1, xs, energy, tokens["line-energy"]),
        ...displayTraces(1, placed, tokens["line-energy"]),
        ...stepTraces(2, steps, tokens["line-soc"]),
        ...displayTraces(3, display, tokens["line-power"]),
      ],
      ranges: (from, to) => {
        const e = rangeOf(xs, [energy.low, energy.high], from, to, { least: 0.2 });
        const p = rangeOf(columns.placed.x, [columns.placed.low, columns.placed.high], from, to, { least: 0.01 });
        return [
          rangeOf(xs, [speed.low, speed.high], from, to, { floor: 0, least: 10 }),
          columns.placed.x.some((x) => x >= from && x <= to) ? [Math.min(e[0], p[0]), Math.max(e[1], p[1])] : e,
          rangeOf(steps.map(({ x }) => x), [steps.map(({ y }) => y)], first, last, { floor: 0, least: 3 }),
          rangeOf(columns.display.x, [columns.display.low, columns.display.high], from, to, { least: 0.1 }),
        ];
      },
      flags, spans,
      notes: [
        curves.speed_mps.value.some((v) => v !== null) ? null : "No track on record.",
        energy.value.some((v) => v !== null) || placed.length ? null : whyNoEnergy(model),
        steps.length ? null : "No displayed % was noted.",
        display.length ? null : "No readings yet: type them in below.",
      ],
    });
    follow();
  }

  /**
   * @param {import("../documents").Band} band
   * @param {"speed"} dimension
   */
  function bandIn(band, dimension) {
    if (!units) return band;
    const shown = units;
    return {
      value: converted(band.value, dimension, shown), low: converted(band.low, dimension, shown),
      high: converted(band.high, dimension, shown),
    };
  }

  /**
   * @param {string} quantity
   * @param {Units} shown
   * @returns {import("./timeline-traces.js").DisplayPoint[]}
   */
  function displayPoints(quantity, shown) {
    const rows = model?.readings.filter(({ record, withdrawn }) =>
      !withdrawn && record.quantity === quantity && record.value !== null) ?? [];
    const unit = rows[0]?.record.unit;
    const length = unit === "km" || unit === "mi";
    displayUnit.textContent = length ? shown.distance : unitName(unit);
    return rows.flatMap(({ record, atMs }) => {
      const x = placeOf(atMs);
      if (x === null) return [];
      const { value, low, high } = displayBounds(record);
      const factor = !length || record.unit === shown.distance ? 1
        : record.unit === "mi" ? METRES_PER_MILE / 1000 : 1000 / METRES_PER_MILE;
      return [{ x, y: value * factor, low: low * factor, high: high * factor }];
    });
  }

  function follow() {
    const tMs = cursor.at();
    if (!model || !units || tMs === null) return;
    const index = indexAt(model.curves.t_ms, tMs);
    const speed = model.curves.speed_mps.value[index];
    strip.mark({
      x: placeOf(tMs),
      dots: [
        typeof speed === "number" ? convert("speed", speed, units) : null,
        model.curves.energy_past_zero_kwh.value[index] ?? null,
        socAt(tMs), null,
      ],
    }, spoken(tMs, index));
  }

  /** @param {number} tMs */
  function socAt(tMs) {
    return soc.filter(({ atMs }) => atMs <= tMs).at(-1)?.soc ?? null;
  }

  /**
   * @param {number} tMs
   * @param {number} index
   */
  function spoken(tMs, index) {
    if (!model || !units) return "";
    const past = formatQuantity("distance", quantityAt(model.curves.past_zero_m, index), units);
    const energy = formatQuantity("energy", quantityAt(model.curves.energy_past_zero_kwh, index), units);
    const speed = formatQuantity("speed", quantityAt(model.curves.speed_mps, index), units);
    return [
      model.clock.time(tMs), past && `${past.text} past zero`, energy && `${energy.text} past zero`, speed?.text,
    ].filter(Boolean).join(", ");
  }

  function fillTable() {
    if (!behind.open || !model || !units) return;
    const { curves, clock } = model;
    const shown = units;
    const wanted = 40;
    const last = curves.t_ms.length - 1;
    const rows = [...new Set(Array.from({ length: wanted }, (_, k) => Math.round((last * k) / (wanted - 1))))]
      .filter((i) => i >= 0)
      .map((i) => {
        const tMs = curves.t_ms[i] ?? 0;
        const at = socAt(tMs);
        return el("tr", {},
          el("th", { scope: "row" }, clock.time(tMs)),
          ...[
            formatQuantity("distance", quantityAt(curves.distance_m, i), shown)?.text,
            formatQuantity("distance", quantityAt(curves.past_zero_m, i), shown)?.text,
            formatQuantity("energy", quantityAt(curves.energy_past_zero_kwh, i), shown)?.text,
            formatQuantity("speed", quantityAt(curves.speed_mps, i), shown)?.text,
            at === null ? null : `${formatNumber(at, 0)} %`,
          ].map((text) => el("td", {}, text ?? "\u2013")));
      });
    tableHost.replaceChildren(el("table", { class: "figures" },
      el("caption", { class: "visually-hidden" }, "The curves at forty moments, with 95 % intervals"),
      el("thead", {}, el("tr", {}, ...["Clock", "Distance", "Past zero", "Energy past zero", "Speed", "Displayed"]
        .map((head) => el("th", { scope: "col" }, head)))),
      el("tbody", {}, ...rows)));
  }

  cursor.follow(follow);
  return {
    element,
    socAt,
    draw,
    /** @returns {[number, number] | null} the part in view, session time */
    viewed() {
      const [from, to] = strip.view().map(momentAt);
      return typeof from === "number" && typeof to === "number" ? [from, to] : null;
    },
    /** @param {number} fromMs @param {number} toMs bring a part into view */
    lookAt(fromMs, toMs) {
      const [from, to] = [placeOf(fromMs), placeOf(toMs)];
      strip.show(from === null || to === null || to <= from ? null : [from, to]);
    },
    /**
     * @param {Model} nextModel
     * @param {Units} nextUnits
     */
    update(nextModel, nextUnits) {
      model = nextModel;
      units = nextUnits;
      const present = Object.keys(READING_KINDS).filter((quantity) => quantity !== "soc"
        && nextModel.readings.some(({ record, withdrawn }) => !withdrawn && record.quantity === quantity));
      if (!present.includes(shownQuantity)) {
        shownQuantity = ["power_available", "range_shown", "pack_voltage", "trip_energy"]
          .find((quantity) => present.includes(quantity)) ?? present[0] ?? "";
      }
      quantityChoice.replaceChildren(...(present.length ? present : [""]).map((quantity) =>
        el("option", { value: quantity, selected: quantity === shownQuantity },
          quantity ? readingName(quantity) : "No display readings yet")));
      quantityChoice.disabled = present.length === 0;
      const hasZero = nextModel.curves.past_zero_m.value.some((value) => value !== null);
      const pastZero = /** @type {HTMLInputElement | null} */ (axisChoice.querySelector("[value=past_zero]"));
      if (pastZero) pastZero.disabled = !hasZero;
      fromZero.disabled = !hasZero;
      if (!hasZero && axis === "past_zero") axis = "time";
      draw();
      fillTable();
      if (cursor.at() === null) {
        const start = nextModel.result.zero.t_ms ?? nextModel.curves.t_ms[0];
        if (start !== undefined) cursor.hover(start);
      }
    },
  };
}

/**
 * @param {Model} model
 * @returns {string} for the panel that stays empty
 */
function whyNoEnergy(model) {
  if (!model.result.zero.basis) return "Nothing to count from: no zero is on record.";
  const read = model.readings.some(({ record, withdrawn }) => !withdrawn && record.quantity === "trip_energy");
  return read ? "The readings of trip energy can\u2019t be brought together: see the doubts, or check them below."
    : "No energy readings yet: type the display\u2019s trip energy below.";
}

/**
 * @param {import("../documents").RawEvent} record
 * @returns {string} a flag's few words
 */
function flagWords(record) {
  if (record.kind === "soc_step" && typeof record.value === "number") return `${formatNumber(record.value, 0)} %`;
  if (record.kind === "speed_capped" && typeof record.value === "number") {
    return `capped ${formatNumber(record.value, 0)} ${record.unit ?? ""}`.trim();
  }
  if (record.kind === "zero_soc") return "0 %";
  if (record.kind === "zero_range") return "0 range";
  if (record.kind === "note" || !(record.kind in EVENT_NAMES)) return "";
  return eventName(record.kind).toLowerCase();
}
