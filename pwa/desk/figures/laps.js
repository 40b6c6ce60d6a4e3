// @ts-check
/** Laps from start line to start line, and what they are compared with: survey and trip meter. */
import { formatNumber, formatPlain, unitOf } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";
import { momentTable } from "./moment-table.js";

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {import("../../shared/units.js").Units} Units */

/**
 * @param {string} name
 * @param {boolean} agrees
 * @param {[string, Node | string][]} lines
 */
function check(name, agrees, lines) {
  return el("div", { class: "check" },
    el("h3", {}, name),
    el("p", { class: `verdict verdict-${agrees ? "good" : "alarm"}` },
      el("span", { "aria-hidden": "true" }, agrees ? "\u2713 " : "\u2260 "), agrees ? "Agrees" : "Disagrees"),
    el("dl", { class: "pairs" }, ...lines.flatMap(([term, value]) => [el("dt", {}, term), el("dd", {}, value)])));
}

/**
 * @param {import("../session/documents").ResultDocument["balance"]} balance
 * @param {Units} units
 */
function balanceCheck(balance, units) {
  if (!balance || balance.agrees === null) {
    return el("div", { class: "check" }, el("h3", {}, "Energy out and in"), el("p", { class: "empty" }, "Needs both a drive past zero and a recharge."));
  }
  return check("Energy out and in", balance.agrees, [
    ["Driven out below zero", figure("energy", balance.driven_below_zero_kwh, units)],
    ["Put back, times the charging efficiency", figure("energy", balance.recharged_below_zero_kwh, units)],
  ]);
}

/**
 * @param {Model} model
 * @param {Units} units
 * @param {import("../session/cursor.js").Cursor} cursor
 * @returns {{ checks: HTMLElement[], laps: HTMLElement }}
 */
export function lapSection(model, units, cursor) {
  const { lap_check: lapCheck, trip_check: tripCheck, laps, distance, balance } = model.result;
  const checks = [
    balanceCheck(balance, units),
    lapCheck ? check("Lap check", lapCheck.agrees, [
      ["Surveyed", formatPlain("distance", lapCheck.surveyed_m, units, 4)],
      ["Measured", figure("distance", lapCheck.measured_m, units)],
      ["Measured \u00f7 surveyed", figure("ratio", lapCheck.ratio, units)],
    ]) : el("div", { class: "check" }, el("h3", {}, "Lap check"),
      el("p", { class: "empty" }, "Needs a surveyed lap length and at least one whole lap.")),
    tripCheck ? check("Trip meter check", tripCheck.agrees, [
      ["Display \u00f7 track", figure("ratio", tripCheck.ratio, units)],
    ]) : el("div", { class: "check" }, el("h3", {}, "Trip meter check"),
      el("p", { class: "empty" }, "Needs a track, a trip reset and trip distance readings.")),
    el("div", { class: "check" }, el("h3", {}, "Whole track"),
      el("dl", { class: "pairs" },
        el("dt", {}, "Distance"), el("dd", {}, figure("distance", distance.total_m, units)),
        el("dt", {}, "Straight from position to position"), el("dd", {}, formatPlain("distance", distance.polyline_m, units, 3)),
        el("dt", {}, "Gaps"), el("dd", {}, distance.gaps.length === 0 ? "none" : String(distance.gaps.length)),
        el("dt", {}, "Method"), el("dd", {}, `${distance.method.charAt(0).toUpperCase()}${distance.method.slice(1)}`))),
  ];
  const table = laps.length === 0
    ? el("p", { class: "empty" }, "No whole lap between crossings of the start line.")
    : momentTable(cursor, "Laps with 95 % intervals", [["Lap", ""], ["From", ""], ["Length", unitOf("distance", units)], ["Duration", ""], ["Energy", "kWh"]],
      laps.map((lap) => ({
        atMs: lap.from_ms, head: formatNumber(lap.number, 0), label: `the start of lap ${lap.number}`,
        cells: [
          model.clock.time(lap.from_ms), figure("distance", lap.length_m, units, { unit: false }), figure("duration", lap.duration_s, units),
          figure("energy", lap.energy_kwh, units, { unit: false }),
        ],
      })));
  return { checks, laps: el("div", { class: "laps-tables" }, table, ...consumptionTable(model, units, cursor)) };
}

/**
 * Consumption stretch by stretch, with the mean speed of each.
 * @param {Model} model
 * @param {Units} units
 * @param {import("../session/cursor.js").Cursor} cursor
 * @returns {HTMLElement[]}
 */
function consumptionTable(model, units, cursor) {
  const stretches = model.result.consumption.by_speed;
  if (stretches.length === 0) return [];
  return [el("div", {}, el("h3", {}, "Consumption by stretch and speed"),
    momentTable(cursor, "Stretches with mean speed and consumption, 95 % intervals", [
      ["From", ""], ["To", ""], ["Mean speed", unitOf("speed", units)], ["Consumption", unitOf("consumption", units)],
    ], stretches.map((stretch) => ({
      atMs: stretch.from_ms, head: model.clock.time(stretch.from_ms), label: model.clock.time(stretch.from_ms),
      cells: [
        model.clock.time(stretch.to_ms), figure("speed", stretch.speed_mps, units, { unit: false }),
        figure("consumption", stretch.wh_per_km, units, { unit: false }),
      ],
    }))))];
}
