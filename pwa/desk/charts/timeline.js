// @ts-check
/** The timeline: speed, distance, energy, displayed % and the display's own figures, one cursor. */
import { METRES_PER_MILE, convert, formatQuantity, unitOf } from "../../shared/units.js";
import { READING_KINDS, readingName, unitName } from "../../shared/vocabulary.js";
import { indexAt, quantityAt } from "./curves.js";
import { el } from "../dom.js";
import { recordWords } from "../evidence/wording.js";
import { displayBounds, displayedSoc, tripEnergyPastZero } from "../model.js";
import { EVENT_GROUPS, flagTone, flagWords, inGroup } from "./event-groups.js";
import { bandLayers } from "./layers.js";
import { layAlong } from "./run-axis.js";
import { runTable } from "./run-table.js";
import { createStrip } from "./strip.js";
import { floats, rangeOf } from "./thin.js";
import { themeTokens } from "../theme.js";

/** @typedef {import("../model.js").Model} Model */
/** @typedef {import("../../shared/units.js").Units} Units */
/** @typedef {import("./curves.js").AxisName} AxisName */
/** @typedef {import("./layers.js").Bar} Bar */

const PANELS = [
  { id: "speed", height: 116 }, { id: "distance", height: 72 }, { id: "energy", height: 150 },
  { id: "soc", height: 52 }, { id: "display", height: 76 },
];

/**
 * @param {import("../cursor.js").Cursor} cursor
 * @param {object} options
 * @param {(eventId: string) => void} options.onFlag an event is to be shown
 * @param {(group: string) => void} options.onFilter
 */
export function createTimeline(cursor, { onFlag, onFilter }) {
  /** @type {Model | null} */
  let model = null;
  /** @type {Units | null} */
  let units = null;
  /** @type {AxisName} */
  let axis = "time";
  /** @type {ReturnType<typeof layAlong> | null} */
  let run = null;
  let group = "all";
  /** @type {{ atMs: number, soc: number }[]} */
  let soc = [];
  let shownQuantity = "";

  const strip = createStrip({
    label: "Moment on the timeline", panels: PANELS, top: 50,
    onSeek: (x, hold) => {
      const tMs = run?.momentAt(x) ?? null;
      if (tMs !== null) (hold ? cursor.hold : cursor.hover)(tMs);
    },
    onLeap: (step) => {
      const now = cursor.at() ?? -Infinity;
      const rows = flagged();
      const next = step === "next"
        ? rows.find(({ atMs }) => atMs > now + 1) : rows.filter(({ atMs }) => atMs < now - 1).at(-1);
      if (next) cursor.hold(next.atMs);
    },
    onFlag: (id) => {
      const at = cursor.at();
      const row = flagged().find(({ record, atMs }) => (id === null ? at !== null && Math.abs(atMs - at) < 1000 : record.id === id));
      if (!row) return;
      cursor.hold(row.atMs);
      onFlag(row.record.id);
    },
    onRelease: cursor.release,
  });
  const [speedTitle, distanceTitle, energyTitle, socTitle, displayTitle] = strip.titles;
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
  const filter = el("select", {
    class: "quiet-select", "aria-label": "Events shown as flags and in the ladder",
    onchange: () => {
      group = filter.value;
      draw();
      onFilter(group);
    },
  }, ...EVENT_GROUPS.map(([name, words]) => el("option", { value: name }, words)));
  const fromZero = el("button", { type: "button", class: "quiet", onclick: showFromZero }, "From zero on");
  const zooms = el("div", { class: "button-row" },
    el("button", { type: "button", class: "quiet", onclick: () => strip.show(null) }, "Whole run"), fromZero,
    el("button", { type: "button", class: "quiet", "aria-label": "Show less of the run", title: "Zoom in", onclick: () => strip.zoom(0.5) }, "+"),
    el("button", { type: "button", class: "quiet", "aria-label": "Show more of the run", title: "Zoom out", onclick: () => strip.zoom(2) }, "\u2212"));
  const tableHost = el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "Figures behind the charts" });
  const behind = el("details", { class: "behind", ontoggle: () => fillTable() },
    el("summary", {}, "Figures behind the charts"), tableHost);
  const element = el("div", { class: "timeline" },
    el("div", { class: "timeline-bar" }, axisChoice, filter, zooms),
    strip.element,
    el("div", { class: "timeline-foot" }, behind,
      el("p", { class: "hint" }, "Bands are 95 % intervals, bars what a display can have meant. Drag marks a part to zoom into, Shift and drag (or one finger) moves it, Ctrl and wheel (or two fingers) zooms, click holds the cursor. Keys: \u2190 \u2192 move it, Page Up and Down go to events and Enter opens one, + \u2212 0 zoom, comma and full stop move the part in view, Esc lets go.")));

  function flagged() {
    const wanted = inGroup(group);
    return model?.events.filter(({ record, withdrawn }) => !withdrawn && wanted(record.kind)) ?? [];
  }

  function showFromZero() {
    if (!model || !run) return;
    const zero = model.result.zero.t_ms;
    const end = model.events.find(({ record, withdrawn }) => !withdrawn && record.kind === model?.result.reserve.ends_at);
    const from = zero === null ? null : run.placeOf(zero);
    const last = run.range()[1];
    const to = end ? (run.placeOf(end.atMs) ?? last) : last;
    if (from === null) return;
    const margin = Math.abs(to - from) * 0.04;
    strip.show([from - margin, to + margin]);
  }

  function draw() {
    if (!model || !units) return;
    const { curves, clock, result } = model;
    const along = layAlong(model, units, axis);
    run = along;
    const tokens = themeTokens();
    const hasZero = result.zero.basis !== null && curves.past_zero_m.value.some((v) => v !== null);
    const speed = along.lines(curves.speed_mps, "speed");
    const distance = along.lines(hasZero ? curves.past_zero_m : curves.distance_m, "distance");
    const energy = along.lines(curves.energy_past_zero_kwh, "energy");
    /** @type {(points: { atMs: number, value: number, low: number, high: number }[]) => Bar[]} */
    const bars = (points) => points.flatMap(({ atMs, value, low, high }) => {
      const x = along.placeOf(atMs);
      return x === null ? [] : [{ x, y: value, low, high }];
    });
    const placed = bars(tripEnergyPastZero(model));
    const display = bars(displayPoints(shownQuantity, units));
    soc = displayedSoc(model);
    const steps = soc.flatMap(({ atMs, soc: y }) => {
      const x = along.placeOf(atMs);
      return x === null ? [] : [{ x, y }];
    });
    const stepCurve = { x: Float64Array.from(steps, ({ x }) => x), y: Float64Array.from(steps, ({ y }) => y) };
    const log = logLines(along);
    const flags = flagged().flatMap(({ record, atMs }) => {
      const x = along.placeOf(atMs);
      return x === null ? [] : [{ id: record.id, x, label: flagWords(record), words: `${recordWords(record)}, ${clock.time(atMs)}`, tone: flagTone(record.kind) }];
    });
    const spans = result.distance.gaps.flatMap(({ from_ms: fromMs, to_ms: toMs }) => {
      const [from, to] = [along.placeOf(fromMs), along.placeOf(toMs)];
      return from === null || to === null ? [] : [{ from, to, label: "no fixes" }];
    });
    const titles = { time: `clock, ${clock.zone}`, distance: `distance, ${units.distance}`, past_zero: `distance past zero, ${units.distance}` };
    speedTitle?.replaceChildren("Speed", el("span", { class: "strip-unit" }, unitOf("speed", units)));
    distanceTitle?.replaceChildren(hasZero ? "Distance past zero" : "Distance", el("span", { class: "strip-unit" }, units.distance));
    energyTitle?.replaceChildren("Energy past zero", el("span", { class: "strip-unit" },
      ["kWh", placed.length ? "points: the display\u2019s trip energy" : "", log ? "dashed: the imported log" : ""].filter(Boolean).join("; ")));
    socTitle?.replaceChildren("Displayed %");

    const ends = (/** @type {Bar[]} */ list) => ({ x: Float64Array.from(list, ({ x }) => x), columns: [Float64Array.from(list, ({ low }) => low), Float64Array.from(list, ({ high }) => high)] });
    const [placedEnds, displayEnds] = [ends(placed), ends(display)];
    const whole = along.range();
    void strip.draw({
      axis: { key: `${model.id} ${axis} ${axis === "time" ? "" : units.distance}`, kind: axis === "time" ? "date" : "number", title: titles[axis], range: whole },
      layers: [
        ...bandLayers(0, along.x, speed, tokens["line-speed"]),
        ...bandLayers(1, along.x, distance, tokens["line-distance"]),
        ...bandLayers(2, along.x, energy, tokens["line-energy"]),
        ...(log ? bandLayers(2, log.x, log.lines, tokens["line-power"], { dashed: true }) : []),
        { panel: 2, colour: tokens["line-energy"], kind: "bars", bars: placed },
        { panel: 3, colour: tokens["line-soc"], kind: "steps", curve: stepCurve },
        { panel: 4, colour: tokens["line-power"], kind: "bars", bars: display, joined: true },
      ],
      ranges: (from, to) => [
        rangeOf(along.x, [speed.low, speed.high], from, to, { floor: 0, least: 10 }),
        rangeOf(along.x, [distance.low, distance.high], from, to, { least: 0.05 }),
        widest([
          rangeOf(along.x, [energy.low, energy.high], from, to, { least: 0.2 }),
          ...(placed.some(({ x }) => x >= from && x <= to) ? [rangeOf(placedEnds.x, placedEnds.columns, from, to, { least: 0.01 })] : []),
          ...(log ? [rangeOf(log.x, [log.lines.low, log.lines.high], from, to, { least: 0.01 })] : []),
        ]),
        rangeOf(stepCurve.x, [stepCurve.y], whole[0], whole[1], { floor: 0, least: 3 }),
        rangeOf(displayEnds.x, displayEnds.columns, from, to, { least: 0.1 }),
      ],
      flags, spans,
      notes: [
        curves.speed_mps.value.some((v) => v !== null) ? null : "No track on record.",
        distance.value.length ? null : "No track on record.",
        energy.value.some((v) => !Number.isNaN(v)) || placed.length ? null : whyNoEnergy(model),
        steps.length ? null : "No displayed % was noted.",
        display.length ? null : "No readings yet: type them in below.",
      ],
    });
    follow();
  }

  /**
   * The log's own energy, on the axis; null where nobody brought one in.
   * @param {ReturnType<typeof layAlong>} along
   */
  function logLines(along) {
    const { log_t_ms: tMs, log_energy_kwh: band } = model?.curves ?? {};
    if (!tMs?.length || !band) return null;
    const x = Float64Array.from(tMs, (at) => along.placeOf(at) ?? NaN);
    if (x.some(Number.isNaN)) return null; // beyond the track: it has a place on the clock alone
    return { x, lines: { value: floats(band.value), low: floats(band.low), high: floats(band.high) } };
  }

  /**
   * @param {string} quantity
   * @param {Units} shown
   */
  function displayPoints(quantity, shown) {
    const rows = model?.readings.filter(({ record, withdrawn }) =>
      !withdrawn && record.quantity === quantity && record.value !== null) ?? [];
    const unit = rows[0]?.record.unit;
    const length = unit === "km" || unit === "mi";
    displayUnit.textContent = length ? shown.distance : unitName(unit);
    return rows.map(({ record, atMs }) => {
      const { value, low, high } = displayBounds(record);
      const factor = !length || record.unit === shown.distance ? 1
        : record.unit === "mi" ? METRES_PER_MILE / 1000 : 1000 / METRES_PER_MILE;
      return { atMs, value: value * factor, low: low * factor, high: high * factor };
    });
  }

  function follow() {
    const tMs = cursor.at();
    if (!model || !units || !run || tMs === null) return;
    const index = indexAt(model.curves.t_ms, tMs);
    const { curves } = model;
    const speed = curves.speed_mps.value[index];
    const along = curves.past_zero_m.value[index] ?? curves.distance_m.value[index];
    strip.mark({
      x: run.placeOf(tMs),
      dots: [
        typeof speed === "number" ? convert("speed", speed, units) : null,
        typeof along === "number" ? convert("distance", along, units) : null,
        curves.energy_past_zero_kwh.value[index] ?? null, socAt(tMs), null,
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
    if (behind.open && model && units) tableHost.replaceChildren(runTable(model, units, socAt));
  }

  cursor.follow(follow);
  return {
    element, socAt, draw,
    /** @returns {[number, number] | null} the part in view, session time */
    viewed() {
      const [from, to] = strip.view().map((x) => run?.momentAt(x) ?? null);
      return typeof from === "number" && typeof to === "number" ? [from, to] : null;
    },
    /** @param {number} fromMs @param {number} toMs bring a part into view */
    lookAt(fromMs, toMs) {
      const [from, to] = [run?.placeOf(fromMs) ?? null, run?.placeOf(toMs) ?? null];
      strip.show(from === null || to === null || to <= from ? null : [from, to]);
    },
    /** @param {Model} nextModel @param {Units} nextUnits */
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

/** @param {[number, number][]} ranges @returns {[number, number]} */
function widest(ranges) {
  return [Math.min(...ranges.map(([low]) => low)), Math.max(...ranges.map(([, high]) => high))];
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
