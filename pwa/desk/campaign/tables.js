// @ts-check
/** What a campaign says beside the figures: warnings, repeats, influences, what is left out. */
import { convert, formatNumber, formatPlain, formatQuantity, unitOf } from "../../shared/units.js";
import { FACTS } from "../../shared/facts.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";
import { csv, fileName, saveAs, three } from "../page/files.js";
import { className, verdict } from "./words.js";

/** @typedef {import("./model.js").Model} Model */
/** @typedef {import("../../shared/units.js").Units} Units */

/**
 * @param {string} whose the campaign's name
 * @param {string} name of its file
 * @param {string} caption
 * @param {string[]} heads the first is the rows' own
 * @param {(string | Node)[][]} rows
 * @param {(string | number | null | undefined)[][]} saved
 * @param {number[]} [ofWords] columns that hold words
 * @param {number} [onPage] a column that is of no use in a report
 */
function table(whose, name, caption, heads, rows, saved, ofWords = [], onPage = -1) {
  const classOf = (/** @type {number} */ i) => [(i === 0 || ofWords.includes(i)) && "words", i === onPage && "on-page"].filter(Boolean).join(" ") || null;
  return el("div", {},
    el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": caption },
      el("table", { class: "figures beside" }, el("caption", { class: "visually-hidden" }, caption),
        el("thead", {}, el("tr", {}, ...heads.map((head, i) => el("th", { scope: "col", class: classOf(i) }, head)))),
        el("tbody", {}, ...rows.map(([first, ...others]) => el("tr", {}, el("th", { scope: "row" }, first ?? ""), ...others.map((cell, i) => el("td", { class: classOf(i + 1) }, cell))))))),
    el("p", { class: "table-foot" }, el("button", { type: "button", class: "quiet small", onclick: () => saveAs(`${fileName(whose, name)}.csv`, csv(saved)) }, "Save the table as CSV")));
}

/** @param {Model} model @param {Units} units */
export function trustTable({ campaign, comparison }, units) {
  if (comparison.warnings.length === 0) return [el("p", { class: "empty" }, "No warning has been noted in these sessions.")];
  /** @param {import("../page/figure.js").Dimension} dimension @param {import("./documents").Q} least @param {import("./documents").Figure} median @returns {Node[]} */
  const both = (dimension, least, median) => [figure(dimension, least, units), figure(dimension, median, units, { aside: least ? `too few; least ${formatQuantity(dimension, least, units)?.value}` : undefined })];
  return [
    table(campaign.name, "warnings", "What was left at the first warning of each class", ["Class of warning", "Cars", "Least left", "Median", "Least energy", "Median", "Least time", "Median"],
      comparison.warnings.map((one) => [className(one.class), String(one.n), ...both("distance", one.least_left_m, one.median_left_m),
        ...both("energy", one.least_left_kwh, one.median_left_kwh), ...both("duration", one.least_left_s, one.median_left_s)]),
      [["class", "cars", ...["least_left", "median_left"].flatMap((key) => ["m", "kwh", "s"].flatMap((unit) => [`${key}_${unit}`, `${key}_low_${unit}`, `${key}_high_${unit}`])), "bound_m", "bound_kwh", "bound_s", "method", "reason"],
        ...comparison.warnings.map((one) => [one.class, one.n, ...three(one.least_left_m), ...three(one.least_left_kwh), ...three(one.least_left_s),
          ...three(one.median_left_m), ...three(one.median_left_kwh), ...three(one.median_left_s), one.bound.left_m, one.bound.left_kwh, one.bound.left_s, one.bound.method, one.bound.reason])]),
    el("ul", { class: "bounds" }, ...comparison.warnings.map((one) => el("li", {}, boundWords(one, units)))),
  ];
}

/** @param {import("./documents").TrustInWarning} told @param {Units} units */
function boundWords({ class: name, bound, least_vehicle, ...seen }, units) {
  const parts = [
    bound.left_m !== null && `${formatNumber(convert("distance", bound.left_m, units), 2)}\u00a0${unitOf("distance", units)}`,
    bound.left_kwh !== null && `${formatNumber(bound.left_kwh, 2)}\u00a0kWh`,
    bound.left_s !== null && `${formatNumber(bound.left_s / 60, 1)}\u00a0min`,
  ].filter(Boolean);
  if (parts.length === 0) {
    const least = formatQuantity("distance", seen.least_left_m, units)?.text ?? formatQuantity("energy", seen.least_left_kwh, units)?.text;
    if (!least) return `${className(name)}: ${bound.reason ?? "no bound can be stated"}.`;
    return `${className(name)}: the least seen was ${least}${least_vehicle ? ` (${least_vehicle})` : ""}; ${formatNumber(Math.floor(bound.least_share * 100), 0)}\u00a0% of cars have that or more, said with ${formatNumber(bound.confidence * 100, 0)}\u00a0% confidence. More can\u2019t be said: ${bound.reason}.`;
  }
  return `${className(name)}: ${formatNumber(bound.share * 100, 0)}\u00a0% of cars had at least ${parts.join(", ")} left, said with ${formatNumber(bound.confidence * 100, 0)}\u00a0% confidence (${bound.method}).`;
}

/** @param {Model} model @param {Units} units */
export function repeatsTable({ campaign, comparison, rows }, units) {
  if (comparison.repeats.length === 0) return [el("p", { class: "empty" }, "No car was driven twice, so whether a car agrees with itself can\u2019t be told.")];
  const tag = (/** @type {string} */ id) => rows.find((row) => row.session_id === id)?.tag ?? "";
  return [table(campaign.name, "repeats", "The same car again: later less first", ["Car, first and later drive", "Difference in energy", "Difference in distance", "Do they agree?", "Software", "Odometer", "Side by side"],
    comparison.repeats.map((one) => [`${one.vehicle} (${one.session_ids.map(tag).join(", ")})`, figure("energy", one.difference_kwh, units), figure("distance", one.difference_m, units), verdict(one.agrees, one.apart),
      one.software[0] === one.software[1] ? one.software[0] ?? "\u2013" : `${one.software[0] ?? "?"} to ${one.software[1] ?? "?"}`,
      one.odometer_difference_km === null ? "\u2013" : `${one.odometer_difference_km < 0 ? "\u2212" : "+"}${formatNumber(Math.abs(convert("distance", one.odometer_difference_km * 1000, units)), 0)}\u00a0${units.distance}`,
      el("a", { href: `/desk?compare=${one.session_ids[0]}&with=${one.session_ids[1]}` }, "Compare", el("span", { class: "visually-hidden" }, ` the drives of ${one.vehicle}`))]),
    [["car", "first", "later", "difference_kwh", "low_kwh", "high_kwh", "difference_m", "low_m", "high_m", "agrees", "apart", "odometer_difference_km"],
      ...comparison.repeats.map((one) => [one.vehicle, ...one.session_ids, ...three(one.difference_kwh), ...three(one.difference_m), one.agrees === null ? "" : String(one.agrees), one.apart.join(" "), one.odometer_difference_km])], [3, 4, 6], 6)];
}

/** @param {Model} model @param {Units} units */
export function influenceTable({ campaign, comparison }, units) {
  const { influences } = comparison.reserve_model;
  if (influences.length === 0) return [el("p", { class: "empty" }, "Too few cars to see what the reserve goes with.")];
  return [table(campaign.name, "influences", "How the reserve of cars with equal packs goes with something else", ["Goes with", "Cars", "Reserve changes by", "What that says"],
    influences.map((one) => [influenceName(one, units), String(one.cars), one.change_kwh ? formatQuantity("energy", one.change_kwh, units)?.text ?? "\u2013" : "\u2013",
      one.clear === null ? one.reason ?? "can\u2019t be told" : one.clear ? "\u25b2 a clear change" : "\u25cb may be none"]),
    [["of", "per", "unit", "level", "against", "cars", "change_kwh", "low_kwh", "high_kwh", "clear", "reason"],
      ...influences.map((one) => [one.of, one.per, one.unit, one.level, one.against, one.cars, ...three(one.change_kwh), one.clear === null ? "" : String(one.clear), one.reason])], [3])];
}

/** @param {import("./documents").Influence} told @param {Units} units */
function influenceName({ of, per, unit, level, against }, units) {
  const name = of.startsWith("consumption.") ? "Consumption past zero" : FACTS[of]?.name ?? of;
  if (level) return `${name}: ${level} instead of ${against}`;
  return `${name}, for each ${stepWords(per ?? 1, unit ?? "", units)} more`;
}

/** @param {number} step @param {string} unit @param {Units} units */
function stepWords(step, unit, units) {
  if (unit === "degC") return `${formatNumber(units.temperature === "\u00b0F" ? step * 1.8 : step, 0)}\u00a0${units.temperature}`;
  if (unit === "km") return formatPlain("distance", step * 1000, units, 0);
  if (unit === "Wh/km" && !units.consumption.endsWith("/kWh")) return formatPlain("consumption", step, units, 0); // distance over energy has no steps
  return `${formatNumber(step, 0)}\u00a0${unit}`;
}

/** @param {Model} model */
export function leftOutList({ comparison, names }) {
  if (comparison.left_out.length === 0) return [el("p", {}, "Nothing: every session of this campaign counts.")];
  return [el("ul", { class: "left-out" }, ...comparison.left_out.map(({ session_id: id, why }) => el("li", {},
    el("a", { href: `/desk?session=${encodeURIComponent(id)}` }, names.get(id) ?? "A session"), `: ${why}.`.replace("..", "."))))];
}
