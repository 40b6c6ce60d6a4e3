// @ts-check
/** The answers: headline figures in the order of the questions, each with its interval and where it came from. */
import { decimalsFor, formatNumber, formatQuantity } from "../../shared/units.js";
import { eventName } from "../../shared/vocabulary.js";
import { explained } from "../how/how.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";
import { displayedSoc, whyNoEnergy } from "../session/model.js";
import { hangsOn } from "../words/hanging.js";
import { endingCells, speedCells, warningCells } from "./answers.js";
import { howHeadline } from "./headline-how.js";

/** @typedef {Omit<import("../session/model.js").Model, "curves">} Model */
/** @typedef {import("../../shared/units.js").Units} Units */
/** @typedef {import("../../shared/units.js").Dimension} Dimension */
/** @typedef {import("../session/documents").Q} Q */

/**
 * @typedef {object} Cell
 * @property {string} key its name in the result document
 * @property {string} name
 * @property {Node} figure
 * @property {string} source where it came from
 */

/** @typedef {(key: string, name: string, dimension: Dimension, quantity: Q | undefined, source: string) => Cell} MakeCell */

/** The questions after the first, in their order: the part that answers at length, and what is missing where nothing does. */
const QUESTIONS = {
  warnings: ["ladder", "Warnings and what was left", "No warning on record"],
  speed: ["limits", "When it could no longer hold a speed", "No capped speed on record, and no speed was asked for"],
  ending: ["ending", "Shut-off and contactors", ""],
  recharge: ["recharge", "Recharge", "No recharge on record"],
  balance: ["laps", "Balance and checks", ""],
};

/**
 * How far and how much first: the two figures that say most of this session, then the others.
 * @param {Model} model
 * @param {Units} units
 * @returns {HTMLElement[]} one for each question
 */
export function headlineAnswers(model, units) {
  const { zero, reserve, distance, recharge, balance, consumption, lap_check: lapCheck } = model.result;
  const usable = model.session.setup.vehicle?.pack?.usable_kwh;
  const fromZero = zero.basis ? `From \u201c${eventName(zero.basis)}\u201d` : "No zero on record";
  const span = zero.basis && reserve.ends_at ? `${fromZero} to \u201c${eventName(reserve.ends_at)}\u201d` : fromZero;
  /** @type {MakeCell} */
  const cell = (key, name, dimension, quantity, source) =>
    ({ key, name, source, figure: quantity ? figure(dimension, quantity, units) : unknown() });

  const driven = cell("distance_m", "Driven past zero", "distance", reserve.distance_m,
    reserve.distance_m ? `${span}; ${distance.method}` : fromZero);
  const energy = cell("energy_kwh", "Energy past zero", "energy", reserve.energy_kwh,
    reserve.energy_kwh ? "From display readings; in between estimated from the driving"
      : zero.basis ? whyNoEnergy(model) : fromZero);
  const time = cell("duration_s", "Time past zero", "duration", reserve.duration_s, span);
  const whole = cell("total_m", "Driven in all", "distance", distance.total_m, sentence(distance.method));
  const charged = recharge ? [
    cell("trickle_s", "Slow charging before full power", "duration", recharge.trickle_s, "From the start of charging until the power rises"),
    cell("below_zero_kwh", "Put back before the display left 0 %", "energy", recharge.below_zero_kwh,
      "Taken in before the display left 0 %, times the charging efficiency"),
  ] : [];

  const soc = reserve.shut_down_before_zero ? socAtEnd(model) : null;
  /** @type {Cell[]} */
  const far = reserve.distance_m || reserve.energy_kwh
    ? [driven, energy, time,
      cell("share_of_usable_pct", "Share of usable energy", "percent", reserve.share_of_usable_pct,
        usable ? `Of ${usable} kWh stated by the maker` : "Usable energy not stated"),
      cell("past_zero_wh_per_km", "Consumption past zero", "consumption", consumption.past_zero_wh_per_km,
        "Energy over distance"),
      ...otherZero(reserve, units, cell), ...bothEnds(reserve, cell)]
    : reserve.shut_down_before_zero
      ? [{
        key: "soc_at_end", name: "Shut down with the display at",
        figure: soc === null ? unknown() : plain(formatNumber(soc, soc % 1 ? 1 : 0), "%"),
        source: `Last figure shown before \u201c${eventName(reserve.ends_at ?? "propulsion_off")}\u201d`,
      }, whole, driven, energy, time]
      : [whole, lapCheck
        ? cell("lap_ratio", "Lap measured \u00f7 surveyed", "ratio", lapCheck.ratio,
          `${lapCheck.agrees ? "Agrees with" : "Disagrees with"} the survey`)
        : { key: "lap_ratio", name: "Lap check", figure: unknown(), source: "Needs a surveyed lap length and a whole lap" },
      driven, energy, time];
  const hanging = (/** @type {string} */ key) => {
    const words = hangsOn(key, model.result);
    return words && el("dd", { class: "headline-hangs verdict-alarm" }, words);
  };
  /** @param {Cell} one @param {boolean} main */
  const shownCell = ({ key, name, figure: shown, source }, main) => {
    const lines = howHeadline(key, model, units);
    const box = el("div", { class: `headline-cell${main ? " headline-main" : ""}`, "data-figure": key },
      el("dt", {}, name, lines.length > 0 && howButton(key, name, lines)), el("dd", {}, shown), hanging(key), source && el("dd", { class: "source" }, source));
    return lines.length > 0 ? explained(box, name, () => lines) : box;
  };
  const cells = {
    warnings: warningCells(model, cell), speed: speedCells(model, units, cell), ending: endingCells(model), recharge: charged,
    balance: [balanceCell(balance, units), tripMeterCell(model)],
  };
  return [
    question("far", "timeline", "How far and how much", far.map((one, i) => shownCell(one, i < 2)), ""),
    ...Object.entries(QUESTIONS).map(([name, [anchor = "", words = "", missing = ""]]) =>
      question(name, anchor, words, cells[/** @type {keyof typeof cells} */ (name)].map((one) => shownCell(one, false)), missing)),
  ];
}

/**
 * @param {string} name
 * @param {string} anchor the part that says more
 * @param {string} words
 * @param {HTMLElement[]} cells
 * @param {string} missing said where there are none
 */
export function question(name, anchor, words, cells, missing) {
  const head = el("h2", { id: `answer-${name}` }, el("a", { href: `#${anchor}` }, words));
  return el("section", { class: `question question-${name}`, "aria-labelledby": head.id }, head,
    cells.length > 0 ? el("dl", {}, ...cells) : el("p", { class: "empty" }, missing));
}

/** What it opens is said as its description as well, to who can't see the panel. @param {string} key @param {string} name @param {string[]} lines */
function howButton(key, name, lines) {
  const said = el("span", { id: `how-${key}`, hidden: true }, lines.join(" "));
  return el("button", { type: "button", class: "how-button", "aria-label": `How \u201c${name}\u201d was reached`, "aria-describedby": said.id },
    el("span", { "aria-hidden": "true" }, "?"), said);
}

/**
 * The same reserve counted from the zero that wasn't chosen.
 * @param {import("../session/documents").ResultDocument["reserve"]} reserve
 * @param {Units} units
 * @param {MakeCell} cell
 * @returns {Cell[]}
 */
function otherZero({ from_zero_range: range, from_zero_soc: soc }, units, cell) {
  return /** @type {const} */ ([["from_zero_range", range, "zero_range"], ["from_zero_soc", soc, "zero_soc"]]).flatMap(([key, other, kind]) => (other
    ? [cell(`${key}.distance_m`, `Counted from \u201c${eventName(kind)}\u201d`, "distance", other.distance_m ?? undefined,
      formatQuantity("energy", other.energy_kwh, units)?.text ?? "The other zero")]
    : []));
}

/**
 * Where the car was restarted: the reserve to the first shut-off and to the last, whichever counts.
 * @param {import("../session/documents").ResultDocument["reserve"]} reserve
 * @param {MakeCell} cell
 * @returns {Cell[]}
 */
function bothEnds({ first_end: first, last_end: last }, cell) {
  if (!first || !last) return [];
  const ends = /** @type {const} */ ([["first", first], ["last", last]]);
  return ends.flatMap(([which, { distance_m: distance, energy_kwh: energy }]) => [
    cell(`${which}_end.distance_m`, `Driven to the ${which} shut-off`, "distance", distance, "The car was restarted and drove on between"),
    cell(`${which}_end.energy_kwh`, `Energy to the ${which} shut-off`, "energy", energy, "The car was restarted and drove on between"),
  ]);
}

/** @param {string} words */
function sentence(words) {
  return words.charAt(0).toUpperCase() + words.slice(1);
}

function unknown() {
  return el("span", { class: "figure headline-unknown" }, "not known");
}

/**
 * @param {string} value
 * @param {string} unit
 */
function plain(value, unit) {
  return el("span", { class: "figure" },
    el("span", { class: "figure-value" }, value, el("span", { class: "figure-unit" }, `\u00a0${unit}`)));
}

/**
 * @param {Model} model
 * @returns {number | null} the last % that the display showed before the car could no longer drive
 */
function socAtEnd(model) {
  const end = model.events.find(({ record, withdrawn }) => !withdrawn && record.id === model.result.reserve.end_event_id);
  return displayedSoc(model).filter(({ atMs }) => atMs <= (end?.atMs ?? Infinity)).at(-1)?.soc ?? null;
}

/**
 * @param {import("../session/documents").ResultDocument["balance"]} balance
 * @param {Units} units
 * @returns {Cell}
 */
function balanceCell(balance, units) {
  const [word, tone] = balance?.agrees === true ? ["Agree", "good"]
    : balance?.agrees === false ? ["Disagree", "alarm"] : ["Can\u2019t say", "soft"];
  const driven = formatQuantity("energy", balance?.driven_below_zero_kwh, units);
  const recharged = formatQuantity("energy", balance?.recharged_below_zero_kwh, units);
  return {
    key: "balance", name: "Energy out and in",
    figure: el("span", { class: `figure verdict-${tone}` },
      el("span", { class: "figure-value" }, word ?? ""), " ",
      driven && recharged && el("span", { class: "figure-interval" }, `${driven.value} out, ${recharged.value} kWh in`)),
    source: driven && recharged ? "Driven below zero against put back" : "Needs both a drive and a recharge",
  };
}

/**
 * @param {Model} model
 * @returns {Cell} the car's own trip meter beside our distance
 */
function tripMeterCell({ result: { trip_check: check } }) {
  const off = check ? (check.ratio.value - 1) * 100 : 0;
  const half = check ? ((check.ratio.high - check.ratio.low) / 2) * 100 : 0;
  const decimals = Math.min(2, decimalsFor(half, 2));
  return {
    key: "trip_meter", name: "The car\u2019s trip meter",
    figure: check ? el("span", { class: `figure verdict-${check.agrees ? "good" : "alarm"}` },
      el("span", { class: "figure-value" }, `${formatNumber(Math.abs(off), decimals)}\u00a0% ${off < 0 ? "low" : "high"}`), " ",
      el("span", { class: "figure-interval" }, `\u00b1\u00a0${formatNumber(half, decimals)}\u00a0%`)) : unknown(),
    source: check ? (check.agrees ? "Agrees with our distance" : "Ours is kept") : "Needs a trip reset and trip distances",
  };
}
