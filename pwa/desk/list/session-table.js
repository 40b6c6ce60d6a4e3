// @ts-check
/** The sessions as a table: what each came to, and what can be done with it. */
import { formatNumber } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";

/** @typedef {import("../session/documents").SessionRow} SessionRow */

const OUTCOMES = {
  "past zero": ["Past zero", "good", "\u25cf"],
  "before zero": ["Before zero", "alarm", "\u25b2"],
  "no drive": ["No drive", "soft", "\u25cb"],
};

/**
 * @param {SessionRow} row
 * @returns {string[]} words, tone, sign
 */
function outcomeOf(row) {
  if (row.outcome) return OUTCOMES[row.outcome];
  if (row.failure) return ["Can\u2019t be worked out", "alarm", "\u25a0"];
  if (row.worked_out === false) return ["Being worked out", "soft", "\u25cc"];
  return row.event_count === 0 ? ["Laps, no run", "soft", "\u25cb"] : ["No zero noted", "soft", "\u25cb"];
}

/**
 * @param {SessionRow[]} rows
 * @param {import("../../shared/units.js").Units} units
 * @param {{ onArchive: (row: SessionRow) => void, onNext: (row: SessionRow) => void }} actions
 * @returns {HTMLElement}
 */
export function sessionTable(rows, units, { onArchive, onNext }) {
  return el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "Sessions, table" },
    el("table", { class: "figures sessions" },
      el("caption", { class: "visually-hidden" }, "Sessions: those not begun yet, then the latest start first; figures with 95 % intervals"),
      el("thead", {}, el("tr", {},
        ...["Session", "Course", "Outcome", "Driven past zero", "Energy past zero", "Record"].map((head, i) =>
          el("th", i === 5 ? { scope: "colgroup", colspan: 3 } : { scope: "col", class: i < 3 ? "words" : null }, head)),
        el("th", { scope: "col" }, el("span", { class: "visually-hidden" }, "Actions")))),
      el("tbody", {}, ...rows.map(line))));

  /** @param {SessionRow} row */
  function line(row) {
    const outcome = outcomeOf(row);
    const name = row.title || row.vehicle_label || "Session without a name";
    return el("tr", { class: row.archived ? "is-archived" : null, "data-session-id": row.id },
      el("th", { scope: "row" },
        el("a", { class: "session-link", href: `/desk?session=${encodeURIComponent(row.id)}` }, name),
        row.title && row.vehicle_label && el("span", { class: "row-detail" }, row.vehicle_label)),
      el("td", { class: "words" }, row.course_label ?? "\u2013", el("span", { class: "row-detail" }, writtenDate(row.started_at))),
      el("td", { class: "words" }, el("span", { class: `outcome outcome-${outcome[1]}` },
        el("span", { "aria-hidden": "true" }, `${outcome[2]} `), outcome[0] ?? ""),
      row.archived && el("span", { class: "row-detail" }, "put away")),
      el("td", {}, figure("distance", row.reserve_distance_m, units)),
      el("td", {}, figure("energy", row.reserve_energy_kwh, units)),
      el("td", { class: "counts" }, formatNumber(row.event_count, 0), " ", el("span", { class: "row-detail" }, "events")),
      el("td", { class: "counts" }, formatNumber(row.reading_count, 0), " ", el("span", { class: "row-detail" }, "readings")),
      el("td", { class: "counts" }, formatNumber(row.fix_count, 0), " ", el("span", { class: "row-detail" }, "fixes")),
      el("td", { class: "row-actions" },
        el("button", { type: "button", class: "quiet small", "aria-label": `The plan of ${name} for the next car`, onclick: () => onNext(row) }, "Next car\u2026"),
        el("button", { type: "button", class: "quiet small", "aria-label": `${row.archived ? "Restore" : "Archive"} ${name}`, onclick: () => onArchive(row) },
          row.archived ? "Restore" : "Archive")));
  }
}

/**
 * The date as the session's own clock had it, whatever zone this desk is in.
 * @param {string | null} stamp RFC 3339
 * @returns {string}
 */
function writtenDate(stamp) {
  const match = /^(\d{4})-(\d\d)-(\d\d)T(\d\d:\d\d)/.exec(stamp ?? "");
  if (!match) return "not driven yet";
  const day = new Date(Date.UTC(Number(match[1]), Number(match[2]) - 1, Number(match[3])));
  const words = new Intl.DateTimeFormat("en-GB", { timeZone: "UTC", day: "numeric", month: "short", year: "numeric" }).format(day);
  return `${words}, ${match[4]}`;
}
