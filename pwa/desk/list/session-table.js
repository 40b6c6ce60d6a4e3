// @ts-check
/** The sessions as a table: what each came to, and what can be done with it. */
import { formatNumber } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";
import { writtenDay } from "./written-day.js";

/** @typedef {import("../session/documents").SessionRow} SessionRow */

const OUTCOMES = {
  "past zero": ["Past zero", "good", "\u25cf"],
  "before zero": ["Before zero", "alarm", "\u25b2"],
  "no drive": ["No drive", "soft", "\u25cb"],
};

/** Columns: key of their order, head, whether they hold words. @type {[string, string, boolean][]} */
const COLUMNS = [
  ["name", "Session", true], ["vehicle", "Car", true], ["started", "Started", true], ["course", "Course", true], ["outcome", "Outcome", true],
  ["distance", "Past zero", false], ["energy", "Energy past zero", false], ["share", "Of usable", false], ["consumption", "Consumption", false],
  ["events", "Events", false], ["readings", "Readings", false], ["fixes", "Positions", false], ["published", "Published", true],
];

/**
 * @param {SessionRow} row
 * @returns {string[]} words, tone, sign
 */
function outcomeOf(row) {
  if (row.outcome) return OUTCOMES[row.outcome];
  if (row.failure) return ["Can\u2019t be worked out", "alarm", "\u25a0"];
  if (!row.figures) return ["Being worked out", "soft", "\u25cc"];
  return row.event_count === 0 ? ["Laps, no run", "soft", "\u25cb"] : ["No zero noted", "soft", "\u25cb"];
}

/**
 * @param {SessionRow[]} rows
 * @param {import("../../shared/units.js").Units} units
 * @param {{ order: ReturnType<typeof import("./order.js").createOrder>, selection: ReturnType<typeof import("./selection.js").createSelection>,
 *   onArchive: (row: SessionRow) => void, onNext: (row: SessionRow) => void }} actions
 * @returns {HTMLElement}
 */
export function sessionTable(rows, units, { order, selection, onArchive, onNext }) {
  return el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "Sessions, table" },
    el("table", { class: "figures sessions" },
      el("caption", { class: "visually-hidden" }, "Sessions, to be sorted by every column; figures with 95 % intervals"),
      el("thead", {}, el("tr", {},
        el("td", { class: "pick-cell" }, selection.boxOfAll(rows)),
        ...COLUMNS.map(([key, words, ofWords]) => order.head(key, words, ofWords)),
        el("th", { scope: "col" }, el("span", { class: "visually-hidden" }, "Actions")))),
      el("tbody", {}, ...rows.map(line))));

  /** @param {SessionRow} row */
  function line(row) {
    const outcome = outcomeOf(row);
    const name = row.title || row.vehicle_label || "Session without a name";
    const behind = !row.worked_out && row.figures !== null;
    const started = writtenDay(row.started_at);
    return el("tr", { class: [row.archived && "is-archived", behind && "is-behind"].filter(Boolean).join(" ") || null, "data-session-id": row.id },
      el("td", { class: "pick-cell" }, selection.box(row, name)),
      el("th", { scope: "row" }, el("a", { class: "session-link", href: `/desk?session=${encodeURIComponent(row.id)}` }, name)),
      cell("Car", row.vehicle_label ?? "\u2013"),
      cell("Started", started.day, started.time && el("span", { class: "row-detail" }, started.time)),
      cell("Course", row.course_label ?? "\u2013"),
      cell("Outcome", el("span", { class: `outcome outcome-${outcome[1]}` }, el("span", { "aria-hidden": "true" }, `${outcome[2]} `), outcome[0] ?? ""),
        behind && el("span", { class: "row-detail" }, "being renewed"),
        row.archived && el("span", { class: "row-detail" }, "put away")),
      el("td", { "data-head": "Past zero" }, figure("distance", row.figures?.reserve_distance_m, units)),
      el("td", { "data-head": "Energy" }, figure("energy", row.figures?.reserve_energy_kwh, units)),
      el("td", { "data-head": "Of usable" }, figure("percent", row.figures?.share_of_usable_pct, units)),
      el("td", { "data-head": "Consumption" }, figure("consumption", row.figures?.consumption_wh_per_km, units)),
      ...[["Events", row.event_count], ["Readings", row.reading_count], ["Positions", row.fix_count]].map(([head, count]) =>
        el("td", { class: "counts", "data-head": head }, formatNumber(Number(count), 0))),
      cell("Published", row.published_at ? writtenDay(row.published_at).day : "\u2013",
        row.published_differs && el("span", { class: "row-detail published-differs" }, "figures changed since")),
      el("td", { class: "row-actions" },
        el("button", { type: "button", class: "quiet small", "aria-label": `The plan of ${name} for the next car`, onclick: () => onNext(row) }, "Next car\u2026"),
        el("button", { type: "button", class: "quiet small", "aria-label": `${row.archived ? "Restore" : "Archive"} ${name}`, onclick: () => onArchive(row) },
          row.archived ? "Restore" : "Archive")));
  }
}

/**
 * @param {string} head what the column is called, where a narrow page has no head row
 * @param {...import("../page/dom.js").Child} children
 */
function cell(head, ...children) {
  return el("td", { class: "words", "data-head": head }, ...children);
}
