// @ts-check
/** Laps from start line to start line, and what they are compared with: survey and trip meter. */
import { formatNumber, formatPlain, unitOf } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";

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
 * @param {Model} model
 * @param {Units} units
 * @param {import("../session/cursor.js").Cursor} cursor
 * @param {HTMLElement} fade chart of the power that full throttle still gave
 * @returns {{ checks: HTMLElement[], laps: HTMLElement }} laps with the limits beneath them
 */
export function lapSection(model, units, cursor, fade) {
  const { lap_check: lapCheck, trip_check: tripCheck, laps, distance } = model.result;
  const checks = [
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
        el("dt", {}, "Raw polyline"), el("dd", {}, formatPlain("distance", distance.polyline_m, units, 3)),
        el("dt", {}, "Gaps"), el("dd", {}, distance.gaps.length === 0 ? "none" : String(distance.gaps.length)),
        el("dt", {}, "Method"), el("dd", {}, `${distance.method.charAt(0).toUpperCase()}${distance.method.slice(1)}`))),
  ];
  const table = laps.length === 0
    ? el("p", { class: "empty" }, "No whole lap between crossings of the start line.")
    : el("div", { class: "table-scroll laps-scroll", tabindex: 0, role: "region", "aria-label": "Laps" },
      el("table", { class: "figures" },
        el("caption", { class: "visually-hidden" }, "Laps with 95 % intervals"),
        el("thead", {}, el("tr", {}, ...[
          ["Lap", ""], ["From", ""], ["Length", unitOf("distance", units)], ["Duration", ""], ["Energy", "kWh"],
        ].map(([name, unit]) => el("th", { scope: "col" }, name ?? "", unit && el("span", { class: "column-unit" }, unit))))),
        el("tbody", {}, ...laps.map((lap) => el("tr", { class: "ladder-row", onclick: () => cursor.hold(lap.from_ms) },
          el("th", { scope: "row" }, el("button", {
            type: "button", class: "row-button", "aria-label": `Move the cursor to the start of lap ${lap.number}`,
          }, formatNumber(lap.number, 0))),
          el("td", {}, model.clock.time(lap.from_ms)),
          el("td", {}, figure("distance", lap.length_m, units, { unit: false })),
          el("td", {}, figure("duration", lap.duration_s, units)),
          el("td", {}, figure("energy", lap.energy_kwh, units, { unit: false })))))));
  return { checks, laps: el("div", { class: "laps-tables" }, table, ...limitTable(model, units, cursor), fade, ...consumptionTable(model, units, cursor)) };
}

/**
 * Stretches at full throttle: the speed the car settled at, and the power that speed takes.
 * @param {Model} model
 * @param {Units} units
 * @param {import("../session/cursor.js").Cursor} cursor
 * @returns {HTMLElement[]}
 */
function limitTable(model, units, cursor) {
  const { limits } = model.result;
  const title = el("h3", { class: "limits-title" }, "What it still gave floored (full throttle)");
  if (limits.length === 0) return [title, el("p", { class: "empty" }, "No stretch with the throttle floored is on record.")];
  return [title, el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "Floored stretches" },
    el("table", { class: "figures" },
      el("caption", { class: "visually-hidden" }, "Stretches with the throttle floored, with 95 % intervals"),
      el("thead", {}, el("tr", {}, ...[
        ["From", ""], ["To", ""], ["Settled speed", unitOf("speed", units)], ["Grade", "%"], ["At the wheels", "kW"], ["From the pack", "kW"],
        ["Past zero", unitOf("distance", units)], ["Energy past zero", "kWh"],
      ].map(([name, unit]) => el("th", { scope: "col" }, name ?? "", unit && el("span", { class: "column-unit" }, unit))))),
      el("tbody", {}, ...limits.map((limit) => el("tr", { class: "ladder-row", onclick: () => cursor.hold(limit.from_ms) },
        el("th", { scope: "row" }, el("button", {
          type: "button", class: "row-button", "aria-label": `Move the cursor to ${model.clock.time(limit.from_ms)}`,
        }, model.clock.time(limit.from_ms))),
        el("td", {}, model.clock.time(limit.to_ms)),
        el("td", {}, figure("speed", limit.speed_mps, units, { unit: false })),
        el("td", {}, figure("percent", limit.grade_pct, units, { unit: false })),
        el("td", {}, figure("power", limit.wheels_kw, units, { unit: false })),
        el("td", {}, figure("power", limit.pack_kw, units, { unit: false })),
        el("td", {}, figure("distance", limit.past_zero_m, units, { unit: false })),
        el("td", {}, figure("energy", limit.energy_past_zero_kwh, units, { unit: false })))))))];
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
  return [el("h3", { class: "limits-title" }, "Consumption by stretch and speed"),
    el("div", { class: "table-scroll laps-scroll", tabindex: 0, role: "region", "aria-label": "Consumption by stretch" },
      el("table", { class: "figures" },
        el("caption", { class: "visually-hidden" }, "Stretches with mean speed and consumption, 95 % intervals"),
        el("thead", {}, el("tr", {}, ...[
          ["From", ""], ["To", ""], ["Mean speed", unitOf("speed", units)], ["Consumption", unitOf("consumption", units)],
        ].map(([name, unit]) => el("th", { scope: "col" }, name ?? "", unit && el("span", { class: "column-unit" }, unit))))),
        el("tbody", {}, ...stretches.map((stretch) => el("tr", { class: "ladder-row", onclick: () => cursor.hold(stretch.from_ms) },
          el("th", { scope: "row" }, el("button", {
            type: "button", class: "row-button", "aria-label": `Move the cursor to ${model.clock.time(stretch.from_ms)}`,
          }, model.clock.time(stretch.from_ms))),
          el("td", {}, model.clock.time(stretch.to_ms)),
          el("td", {}, figure("speed", stretch.speed_mps, units, { unit: false })),
          el("td", {}, figure("consumption", stretch.wh_per_km, units, { unit: false })))))))];
}
