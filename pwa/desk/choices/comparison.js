// @ts-check
/** What a trial changes: the headline figures as they are and as they would be, side by side. */
import { convert, formatQuantity, formatNumber, unitOf, decimalsFor } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";
import { told } from "../words/told.js";

/** @typedef {import("../session/documents").ResultDocument} Result */
/** @typedef {import("../../shared/units.js").Units} Units */
/** @typedef {import("../../shared/units.js").Dimension} Dimension */
/** @typedef {import("../session/documents").Q} Q */

/** @type {[string, Dimension, (result: Result) => Q | undefined][]} */
const ROWS = [
  ["Driven past zero", "distance", ({ reserve }) => reserve.distance_m],
  ["Energy past zero", "energy", ({ reserve }) => reserve.energy_kwh],
  ["Time past zero", "duration", ({ reserve }) => reserve.duration_s],
  ["Share of usable energy", "percent", ({ reserve }) => reserve.share_of_usable_pct],
  ["Consumption past zero", "consumption", ({ consumption }) => consumption.past_zero_wh_per_km],
  ["Slow charging before full power", "duration", ({ recharge }) => recharge?.trickle_s],
  ["Put back before the display left 0 %", "energy", ({ recharge }) => recharge?.below_zero_kwh],
  ["Driven in all", "distance", ({ distance }) => distance.total_m],
  ["Lap measured \u00f7 surveyed", "ratio", ({ lap_check: check }) => check?.ratio],
];

/**
 * @param {Result} now
 * @param {Result} trial
 * @param {Units} units
 * @param {import("../session/clock.js").SessionClock} clock
 * @returns {HTMLElement}
 */
export function comparison(now, trial, units, clock) {
  const lines = ROWS.filter(([, , of]) => of(now) || of(trial)).map(([name, dimension, of]) => {
    const [was, would] = [of(now), of(trial)];
    const same = JSON.stringify(was ?? null) === JSON.stringify(would ?? null);
    return el("tr", { class: same ? "is-same" : "is-changed" },
      el("th", { scope: "row" }, name), el("td", {}, figure(dimension, was, units)), el("td", {}, figure(dimension, would, units)),
      el("td", { class: "trial-change" }, same ? "same" : change(dimension, was, would, units)));
  });
  const [before, after] = [now, trial].map((result) => new Map(result.findings.map((finding) => [`${finding.code} ${finding.where}`, finding])));
  const fresh = [...(after ?? [])].filter(([key]) => !before?.has(key)).map(([, finding]) => finding);
  const gone = [...(before ?? [])].filter(([key]) => !after?.has(key)).map(([, finding]) => finding);
  return el("div", { class: "comparison" },
    el("table", { class: "figures" },
      el("caption", { class: "visually-hidden" }, "Headline figures as they are and with these choices"),
      el("thead", {}, el("tr", {}, ...["Figure", "As it is", "With these choices", "Change"].map((head) => el("th", { scope: "col" }, head)))),
      el("tbody", {}, ...lines)),
    ...[["Doubts that would go", gone], ["Doubts that would come", fresh]].flatMap(([words, findings]) =>
      Array.isArray(findings) && findings.length ? [el("p", { class: "trial-findings" }, el("b", {}, `${words}: `), findings.map((finding) => told(finding, clock, units)).join(" "))] : []));
}

/**
 * @param {Dimension} dimension
 * @param {Q | undefined} was
 * @param {Q | undefined} would
 * @param {Units} units
 */
function change(dimension, was, would, units) {
  if (!was) return "now known";
  if (!would) return "no longer known";
  const by = convert(dimension, would.value, units) - convert(dimension, was.value, units);
  const decimals = decimalsFor(Math.abs(convert(dimension, would.high, units) - convert(dimension, would.low, units)) / 2, 2);
  if (Number(by.toFixed(decimals)) === 0) {
    const shown = formatQuantity(dimension, would, units)?.interval !== formatQuantity(dimension, was, units)?.interval;
    return shown ? "interval only" : "no visible change";
  }
  const sign = by > 0 ? "+" : "";
  return dimension === "duration" ? `${sign}${formatNumber(by, Math.min(1, decimals))}\u00a0s` : `${sign}${formatNumber(by, decimals)}\u00a0${unitOf(dimension, units)}`.trim();
}
