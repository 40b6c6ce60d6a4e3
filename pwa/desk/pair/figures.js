// @ts-check
/** Two sessions' headline figures side by side, and the conditions that differ. */
import { FACTS } from "../../shared/facts.js";
import { convert, formatNumber, formatQuantity } from "../../shared/units.js";
import { verdict } from "../campaign/words.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";
import { csv, fileName, saveAs, three } from "../page/files.js";
import { CHOICE_NAMES, shownAs } from "../words/setup-fields.js";

/** @typedef {import("../campaign/documents").Pair} Pair */
/** @typedef {import("../../shared/units.js").Units} Units */

/** @type {Record<string, [string, import("../../shared/units.js").Dimension]>} */
const FIGURES = {
  "reserve.distance_m": ["Driven past zero", "distance"],
  "reserve.energy_kwh": ["Energy past zero", "energy"],
  "reserve.duration_s": ["Time past zero", "duration"],
  "reserve.share_of_usable_pct": ["Share of usable energy", "percent"],
  "consumption.past_zero_wh_per_km": ["Consumption past zero", "consumption"],
  "held_speed.last_held.past_zero_m": ["Asked speed last held, past zero", "distance"],
  "held_speed.last_held.energy_past_zero_kwh": ["Asked speed last held, energy", "energy"],
  "held_speed.first_not_held.past_zero_m": ["Asked speed first not held, past zero", "distance"],
  "held_speed.first_not_held.energy_past_zero_kwh": ["Asked speed first not held, energy", "energy"],
  "distance.total_m": ["Whole drive", "distance"],
  "lap_check.ratio": ["Laps against the survey", "ratio"],
  "trip_check.ratio": ["Trip meter against ours", "ratio"],
  "recharge.trickle_s": ["Slow charging before full power", "duration"],
  "recharge.trickle_kw": ["Power while charging slowly", "power"],
  "recharge.trickle_kwh": ["Energy while charging slowly", "energy"],
  "recharge.full_power_kw": ["Full charging power", "power"],
  "recharge.energy_in_kwh": ["Energy in", "energy"],
  "recharge.below_zero_kwh": ["Put back before the display left 0 %", "energy"],
};
const SIGNED = new Set(["distance", "energy", "duration", "percent", "consumption", "power", "ratio"]);

const PAST_ZERO = /^(reserve|held_speed)\.|past_zero/;
const EARLY = "shut down before 0\u00a0%";

/**
 * Which went how much farther, how many of the figures agree, and what else was not the same.
 * @param {Pair} pair @param {[string, string]} names @param {Units} units @param {[boolean, boolean]} early
 */
export function summary(pair, names, units, early) {
  const told = pair.figures.filter(({ agrees }) => agrees !== null);
  const agree = told.filter(({ agrees }) => agrees).length;
  const facts = pair.differs.map(({ name }) => inSentence(wordsOf(name)));
  const shown = facts.length > 5 ? [...facts.slice(0, 4), `${facts.length - 4} more`] : facts;
  return [
    ...farther(pair, names, units, early),
    told.length === 0 ? "No figure is known of both." : agree === told.length ? `All ${told.length} figures that are known of both agree within their doubt.`
      : `${agree} of the ${told.length} figures that are known of both agree within their doubt, ${told.length - agree} ${told.length - agree === 1 ? "is" : "are"} apart by more.`,
    facts.length === 0 ? "Nothing else that was stated differs." : `What was not the same: ${shown.join("; ")}.`,
  ].join(" ");
}

/** @param {Pair} pair @param {[string, string]} names @param {Units} units @param {[boolean, boolean]} early @returns {string[]} */
function farther(pair, names, units, early) {
  const before = names.filter((_, i) => early[i]);
  if (before.length > 0) return [`${before.join(" and ")} ${EARLY}.`];
  /** @param {string} name */
  const of = (name) => pair.figures.find((told) => told.name === name)?.difference ?? null;
  const [way, energy] = [of("reserve.distance_m"), of("reserve.energy_kwh")];
  const lead = way ?? energy;
  if (!lead) return [];
  const [more, less] = lead.value >= 0 ? [names[1], names[0]] : [names[0], names[1]];
  /** The difference the way the sentence goes. @param {import("../../shared/units.js").Dimension} dimension @param {{ value: number, low: number, high: number }} told */
  const told = (dimension, { value, low, high }) => {
    const turned = lead.value >= 0 ? { value, low, high } : { value: -value, low: -high, high: -low };
    const size = turned.value < 0 ? { value: -turned.value, low: -turned.high, high: -turned.low } : turned;
    return { less: turned.value < 0, alike: turned.low <= 0 && turned.high >= 0, words: formatQuantity(dimension, size, units)?.text };
  };
  const far = way && told("distance", way);
  const much = energy && told("energy", energy);
  if ((far?.alike ?? true) && (much?.alike ?? true)) return [`Nothing tells the two reserves apart: ${[far && `${far.words} farther`, much && `${much.words} ${much.less ? "less" : "more"}`].filter(Boolean).join(" and ")} for ${more}, within the doubt.`];
  if (!far) return [`${more} used ${much?.words} more past zero than ${less}.`];
  const energies = much && (much.alike ? "as much energy within the doubt" : `${much.words} ${much.less ? "less" : "more"}`);
  if (far.alike) return [`Both drove as far past zero within the doubt; ${more} used ${energies} there.`];
  return [`${more} drove ${far.words} farther past zero than ${less}${energies ? `, on ${energies}` : ""}.`];
}

/**
 * @param {Pair} pair
 * @param {[string, string]} names
 * @param {Units} units
 * @param {{ whose: string, early: [boolean, boolean] }} more what its file is of, and which of the two shut down before zero
 */
export function pairFigures(pair, names, units, { whose, early }) {
  /** @param {string} name @param {import("../../shared/units.js").Dimension} dimension @param {import("../campaign/documents").Q} told @param {boolean} before */
  const cell = (name, dimension, told, before) => (!told && before && PAST_ZERO.test(name) ? el("span", { class: "soft" }, EARLY) : figure(dimension, told, units));
  const rows = pair.figures.map((told) => {
    const [words, dimension] = FIGURES[told.name] ?? [told.name, "ratio"];
    return el("tr", { "data-figure": told.name }, el("th", { scope: "row" }, words),
      el("td", {}, cell(told.name, dimension, told.one, early[0])), el("td", {}, cell(told.name, dimension, told.other, early[1])),
      el("td", {}, difference(dimension, told.difference, units)), el("td", { class: "words" }, told.difference ? verdict(told.agrees) : el("span", { class: "soft" }, early.includes(true) && PAST_ZERO.test(told.name) ? `one ${EARLY}` : "one isn\u2019t known")));
  });
  return [
    el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "Figures side by side, table" },
      el("table", { class: "figures pair-figures" }, el("caption", { class: "visually-hidden" }, "Headline figures of two sessions, and their difference"),
        el("thead", {}, el("tr", {}, el("td", {}), ...names.map((name) => el("th", { scope: "col" }, name)), el("th", { scope: "col" }, "Second less first"), el("th", { scope: "col", class: "words" }, "Do they agree?"))),
        el("tbody", {}, ...rows))),
    el("p", { class: "table-foot" }, el("button", { type: "button", class: "quiet small", onclick: save }, "Save the table as CSV"), el("span", { class: "hint" }, "The two count as independent; intervals are 95 %. Differences are taken before anything is rounded.")),
  ];

  function save() {
    saveAs(`${fileName(whose)}.csv`, csv([["figure", "one", "one_low", "one_high", "other", "other_low", "other_high", "difference", "difference_low", "difference_high", "agrees"],
      ...pair.figures.map((told) => [told.name, ...three(told.one), ...three(told.other), ...three(told.difference), told.agrees === null ? "" : String(told.agrees)])]));
  }
}

/**
 * A difference is a length of its own: of distance over energy, which has no such, the figures stand alone.
 * @param {import("../../shared/units.js").Dimension} dimension @param {import("../campaign/documents").Q} told @param {Units} units
 */
function difference(dimension, told, units) {
  if (!told || !SIGNED.has(dimension)) return "\u2013";
  if (dimension === "consumption" && units.consumption.endsWith("kWh")) return figure(dimension, told, { ...units, consumption: "Wh/km" });
  const shown = formatQuantity(dimension, told, units);
  const plus = told.value > 0 && shown && !shown.value.startsWith("\u2212") ? "+" : "";
  const node = figure(dimension, told, units);
  node.prepend(plus);
  return node;
}

/** @param {Pair} pair @param {[string, string]} names @param {Units} units */
export function differing(pair, names, units) {
  if (pair.differs.length === 0) return [el("p", {}, "Nothing that was stated of car, day, course and plan differs.")];
  const said = (/** @type {string} */ path, /** @type {unknown} */ value) => {
    if (value === null) return "not stated";
    if (typeof value === "boolean") return value ? "yes" : "no";
    const [inUnits, unit] = inUnitsOf(path, units);
    return typeof value === "number" && inUnits ? `${formatNumber(inUnits(value), 0)}\u00a0${unit}` : [shownAs(path, value), FACTS[path]?.unit].filter(Boolean).join("\u00a0");
  };
  return [el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "Conditions that differ" },
    el("table", { class: "figures beside differs" }, el("caption", { class: "visually-hidden" }, "What is stated otherwise of the two"),
      el("thead", {}, el("tr", {}, el("td", {}), ...names.map((name) => el("th", { scope: "col" }, name)))),
      el("tbody", {}, ...pair.differs.map(({ name, one, other }) => el("tr", {}, el("th", { scope: "row" }, wordsOf(name)), el("td", {}, said(name, one)), el("td", {}, said(name, other)))))))];
}

/** What the reader has a unit of his own for. @param {string} path @param {Units} units @returns {[((value: number) => number) | null, string]} */
function inUnitsOf(path, units) {
  switch (FACTS[path]?.unit) {
    case "\u00b0C": return [(value) => convert("temperature", value, units), units.temperature];
    case "km": return [(value) => convert("distance", value * 1000, units), units.distance];
    default: return [null, ""];
  }
}

/** @param {string} name "Usable energy, as stated" @returns {string} "usable energy" */
function inSentence(name) {
  return name.charAt(0).toLowerCase() + name.slice(1).replace(/,.*/, "");
}

/** @param {string} path "vehicle.pack.usable_kwh" */
function wordsOf(path) {
  if (path === "vehicle.label") return "Car";
  const known = FACTS[path]?.name ?? CHOICE_NAMES[path];
  if (known) return known;
  const words = path.replaceAll(".", ", ").replaceAll("_", " ");
  return words.charAt(0).toUpperCase() + words.slice(1);
}
