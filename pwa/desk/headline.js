// @ts-check
/** Headline figures, each with its interval and where it came from, and the doubts about them. */
import { formatQuantity } from "../shared/units.js";
import { eventName } from "../shared/vocabulary.js";
import { el } from "./dom.js";
import { figure } from "./figure.js";

/** @typedef {import("./model.js").Model} Model */
/** @typedef {import("../shared/units.js").Units} Units */
/** @typedef {import("../shared/units.js").Dimension} Dimension */
/** @typedef {import("./documents").Q} Q */

/**
 * @param {Model} model
 * @param {Units} units
 * @returns {HTMLElement[]}
 */
export function headlineCells(model, units) {
  const { zero, reserve, distance, recharge, balance, consumption } = model.result;
  const usable = model.session.setup.vehicle?.pack?.usable_kwh;
  const fromZero = zero.basis ? `From \u201c${eventName(zero.basis)}\u201d` : "No zero on record";
  const toEnd = reserve.ends_at ? ` to \u201c${eventName(reserve.ends_at)}\u201d` : "";
  /** @type {[string, Dimension, Q, string, string][]} key, dimension, figure, name, source */
  const figures = [
    ["distance_m", "distance", reserve.distance_m, reserve.shut_down_before_zero ? "Short of zero" : "Driven past zero",
      zero.basis ? `${fromZero}${toEnd}; ${distance.method}` : `${fromZero}; ${distance.method}`],
    ["energy_kwh", "energy", reserve.energy_kwh, "Energy past zero",
      "Display readings as bounds, spread along the track between them"],
    ["duration_s", "duration", reserve.duration_s, "Time past zero", `${fromZero}${toEnd}`],
    ["share_of_usable_pct", "percent", reserve.share_of_usable_pct, "Share of usable",
      usable ? `Of ${usable} kWh stated by the maker` : "Usable energy not stated"],
    ["past_zero_wh_per_km", "consumption", consumption.past_zero_wh_per_km, "Consumption past zero",
      "Energy past zero over distance past zero"],
    ["trickle_s", "duration", recharge?.trickle_s ?? null, "Trickle on the charger",
      recharge ? "From plug-in until the power rises" : "No recharge on record"],
    ["below_zero_kwh", "energy", recharge?.below_zero_kwh ?? null, "Recharged below zero",
      recharge ? "Taken in before the display left 0 %" : "No recharge on record"],
  ];
  const cells = figures.map(([key, dimension, quantity, name, source], i) =>
    el("div", { class: `headline-cell${i < 2 ? " headline-main" : ""}`, "data-figure": key },
      el("dt", {}, name), el("dd", {}, figure(dimension, quantity, units)),
      el("dd", { class: "source" }, source)));
  const verdict = balance?.agrees === true ? ["Closes", "good"]
    : balance?.agrees === false ? ["Doesn\u2019t close", "alarm"] : ["Can\u2019t say", "soft"];
  const driven = formatQuantity("energy", balance?.driven_below_zero_kwh, units);
  const recharged = formatQuantity("energy", balance?.recharged_below_zero_kwh, units);
  cells.push(el("div", { class: "headline-cell", "data-figure": "balance" },
    el("dt", {}, "Energy balance"),
    el("dd", {}, el("span", { class: `figure verdict verdict-${verdict[1]}` },
      el("span", { class: "figure-value" }, verdict[0] ?? ""), " ",
      driven && recharged && el("span", { class: "figure-interval" }, `${driven.value} out, ${recharged.value} kWh in`))),
    el("dd", { class: "source" }, driven && recharged
      ? "Driven out below zero against recharged below zero" : "Needs figures from both drive and recharge")));
  return cells;
}

const SEVERITIES = { error: ["Error", "\u25a0"], doubt: ["Doubt", "\u25b2"], note: ["Note", "\u25cb"] };

/**
 * @param {import("./documents").Finding[]} findings
 * @returns {HTMLElement}
 */
export function findingList(findings) {
  if (findings.length === 0) {
    return el("p", { class: "empty" }, "Nothing speaks against these figures.");
  }
  const order = ["error", "doubt", "note"];
  const sorted = [...findings].sort((a, b) => order.indexOf(a.severity) - order.indexOf(b.severity));
  return el("ul", { class: "findings" }, ...sorted.map(({ severity, message, where }) => {
    const [word, sign] = SEVERITIES[severity];
    return el("li", { class: `finding finding-${severity}` },
      el("span", { class: "finding-severity" }, el("span", { "aria-hidden": "true" }, `${sign} `), word ?? severity),
      el("span", { class: "finding-message" }, message, " ", where && el("span", { class: "finding-where" }, where)));
  }));
}
