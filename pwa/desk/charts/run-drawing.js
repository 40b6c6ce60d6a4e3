// @ts-check
/** What the timeline's panels show of a run: curves, bands, the display's own figures, flags, gaps. */
import { METRES_PER_MILE } from "../../shared/units.js";
import { unitName } from "../../shared/vocabulary.js";
import { themeTokens } from "../page/theme.js";
import { displayBounds, displayedSoc, tripEnergyPastZero, whyNoEnergy } from "../session/model.js";
import { emphasisOf, flagWords } from "../words/event-groups.js";
import { recordWords } from "../words/wording.js";
import { bandLayers } from "./layers.js";
import { floats, rangeOf } from "./thin.js";

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {import("../../shared/units.js").Units} Units */
/** @typedef {ReturnType<typeof import("./run-axis.js").layAlong>} RunAxis */
/** @typedef {import("./layers.js").Bar} Bar */
/** @typedef {{ atMs: number, value: number, low: number, high: number }} Shown  what a display showed */

/**
 * @param {Model} model
 * @param {Units} units
 * @param {object} view
 * @param {import("../session/curves.js").AxisName} view.axis
 * @param {RunAxis} view.along
 * @param {string} view.quantity of the display, drawn in the last panel
 * @param {import("../session/model.js").EventRow[]} view.flagged events with a flag
 * @returns {{ drawing: import("./strip.js").Drawing, energyWords: string, displayUnit: string }}
 */
export function runDrawing(model, units, { axis, along, quantity, flagged }) {
  const { curves, clock, result } = model;
  const tokens = themeTokens();
  const speed = along.lines(curves.speed_mps, "speed");
  const distance = along.lines(countsFromZero(model) ? curves.past_zero_m : curves.distance_m, "distance");
  const energy = along.lines(curves.energy_past_zero_kwh, "energy");
  const placed = bars(along, tripEnergyPastZero(model));
  const shown = displayFigures(model, units, quantity);
  const display = bars(along, shown.figures);
  const soc = socCurve(model, along);
  const log = logLines(model, along);
  const [placedEnds, displayEnds] = [ends(placed), ends(display)];
  const whole = along.range();
  const titles = { time: `clock, ${clock.zone}`, distance: `distance, ${units.distance}`, past_zero: `distance past zero, ${units.distance}` };
  return {
    energyWords: ["kWh", placed.length ? "points: the display\u2019s trip energy" : "", log ? "dashed: the imported log" : ""].filter(Boolean).join("; "),
    displayUnit: shown.unit,
    drawing: {
      axis: { key: `${model.id} ${axis} ${axis === "time" ? "" : units.distance}`, kind: axis === "time" ? "date" : "number", title: titles[axis], range: whole },
      layers: [
        ...bandLayers(0, along.x, speed, tokens["line-speed"]),
        ...bandLayers(1, along.x, distance, tokens["line-distance"]),
        ...bandLayers(2, along.x, energy, tokens["line-energy"]),
        ...(log ? bandLayers(2, log.x, log.lines, tokens["line-power"], { dashed: true }) : []),
        { panel: 2, colour: tokens["line-energy"], kind: "bars", bars: placed },
        { panel: 3, colour: tokens["line-soc"], kind: "steps", curve: soc, until: whole[1] },
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
        rangeOf(soc.x, [soc.y], whole[0], whole[1], { floor: 0, least: 3 }),
        rangeOf(displayEnds.x, displayEnds.columns, from, to, { least: 0.1 }),
      ],
      flags: flagged.flatMap(({ record, atMs }) => {
        const x = along.placeOf(atMs);
        return x === null ? [] : [{ id: record.id, x, label: flagWords(record), words: `${recordWords(record)}, ${clock.time(atMs)}`, tone: emphasisOf(record.kind) }];
      }),
      spans: result.distance.gaps.flatMap(({ from_ms: fromMs, to_ms: toMs }) => {
        const [from, to] = [along.placeOf(fromMs), along.placeOf(toMs)];
        return from === null || to === null ? [] : [{ from, to, label: "no positions" }];
      }),
      notes: [
        curves.speed_mps.value.some((v) => v !== null) ? null : "No track on record.",
        distance.value.length ? null : "No track on record.",
        energy.value.some((v) => !Number.isNaN(v)) || placed.length ? null : whyNoEnergy(model),
        soc.x.length ? null : "No displayed charge was noted.",
        display.length ? null : "No readings yet: type them in below.",
      ],
    },
  };
}

/** @param {Model} model @returns {boolean} whether distances can be told from zero */
export function countsFromZero(model) {
  return model.result.zero.basis !== null && model.curves.past_zero_m.value.some((v) => v !== null);
}

/** @param {RunAxis} along @param {Shown[]} figures @returns {Bar[]} those with a place on the axis */
function bars(along, figures) {
  return figures.flatMap(({ atMs, value, low, high }) => {
    const x = along.placeOf(atMs);
    return x === null ? [] : [{ x, y: value, low, high }];
  });
}

/** @param {Bar[]} list */
function ends(list) {
  return {
    x: Float64Array.from(list, ({ x }) => x),
    columns: [Float64Array.from(list, ({ low }) => low), Float64Array.from(list, ({ high }) => high)],
  };
}

/** @param {Model} model @param {RunAxis} along */
function socCurve(model, along) {
  const steps = displayedSoc(model).flatMap(({ atMs, soc: y }) => {
    const x = along.placeOf(atMs);
    return x === null ? [] : [{ x, y }];
  });
  return { x: Float64Array.from(steps, ({ x }) => x), y: Float64Array.from(steps, ({ y }) => y) };
}

/**
 * The log's own energy, on the axis; null where nobody brought one in.
 * @param {Model} model
 * @param {RunAxis} along
 */
function logLines({ curves }, along) {
  const { log_t_ms: tMs, log_energy_kwh: band } = curves;
  if (!tMs?.length || !band) return null;
  const x = Float64Array.from(tMs, (at) => along.placeOf(at) ?? NaN);
  if (x.some(Number.isNaN)) return null; // beyond the track: it has a place on the clock alone
  return { x, lines: { value: floats(band.value), low: floats(band.low), high: floats(band.high) } };
}

/**
 * @param {Model} model
 * @param {Units} units
 * @param {string} quantity
 * @returns {{ figures: Shown[], unit: string }}
 */
function displayFigures(model, units, quantity) {
  const rows = model.readings.filter(({ record, withdrawn }) => !withdrawn && record.quantity === quantity && record.value !== null);
  const unit = rows[0]?.record.unit;
  const length = unit === "km" || unit === "mi";
  const figures = rows.map(({ record, atMs }) => {
    const { value, low, high } = displayBounds(record);
    const factor = !length || record.unit === units.distance ? 1
      : record.unit === "mi" ? METRES_PER_MILE / 1000 : 1000 / METRES_PER_MILE;
    return { atMs, value: value * factor, low: low * factor, high: high * factor };
  });
  return { figures, unit: length ? units.distance : unitName(unit) };
}

/** @param {[number, number][]} ranges @returns {[number, number]} */
function widest(ranges) {
  return [Math.min(...ranges.map(([low]) => low)), Math.max(...ranges.map(([, high]) => high))];
}
