// @ts-check
/** Laps from gate to gate, and the two rulers held against each other: survey and trip meter. */
import { formatNumber, formatPlain, unitOf } from "../shared/units.js";
import { el } from "./dom.js";
import { figure } from "./figure.js";

/** @typedef {import("./model.js").Model} Model */
/** @typedef {import("../shared/units.js").Units} Units */

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
 * @param {import("./cursor.js").Cursor} cursor
 * @returns {{ checks: HTMLElement[], laps: HTMLElement }}
 */
export function lapSection(model, units, cursor) {
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
      el("p", { class: "empty" }, "Needs a trip reset and trip distance readings.")),
    el("div", { class: "check" }, el("h3", {}, "Whole track"),
      el("dl", { class: "pairs" },
        el("dt", {}, "Distance"), el("dd", {}, figure("distance", distance.total_m, units)),
        el("dt", {}, "Raw polyline"), el("dd", {}, formatPlain("distance", distance.polyline_m, units, 3)),
        el("dt", {}, "Gaps"), el("dd", {}, distance.gaps.length === 0 ? "none" : String(distance.gaps.length)),
        el("dt", {}, "Method"), el("dd", {}, distance.method))),
  ];
  const table = laps.length === 0
    ? el("p", { class: "empty" }, "No whole lap between gate crossings or lap marks.")
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
  return { checks, laps: table };
}
