// @ts-check
/** All sessions at a glance, and the way in for a session file. */
import { request } from "../shared/api.js";
import { formatNumber } from "../shared/units.js";
import { el } from "./dom.js";
import { figure } from "./figure.js";
import { createImport } from "./import.js";

/** @typedef {import("./documents").SessionRow} SessionRow */

const OUTCOMES = {
  "past zero": ["Past zero", "good", "\u25cf"],
  "before zero": ["Before zero", "alarm", "\u25b2"],
  "no drive": ["No drive", "soft", "\u25cb"],
};

/**
 * @param {import("../shared/units.js").Units} firstUnits
 */
export function createSessionList(firstUnits) {
  let units = firstUnits;
  /** @type {SessionRow[] | null} */
  let rows = null;
  const host = el("div", { class: "session-table", "aria-busy": "true" },
    ...Array.from({ length: 4 }, () => el("div", { class: "row-waiting" })));
  const count = el("p", { class: "session-facts" }, "\u00a0");
  const importer = createImport(load);
  const element = el("div", { class: "list" },
    el("header", { class: "session-head" }, el("div", {}, el("h1", {}, "Sessions"), count)),
    el("div", { class: "list-layout" }, host, importer.element));

  /** @param {SessionRow} row */
  function line(row) {
    const outcome = row.outcome ? OUTCOMES[row.outcome] : ["No outcome", "soft", "\u25cb"];
    const name = row.title || row.vehicle_label || "Session without a name";
    return el("tr", {},
      el("th", { scope: "row" },
        el("a", { class: "session-link", href: `/desk?session=${encodeURIComponent(row.id)}` }, name),
        row.title && row.vehicle_label && el("span", { class: "row-detail" }, row.vehicle_label)),
      el("td", { class: "words" }, row.course_label ?? "\u2013", el("span", { class: "row-detail" }, writtenDate(row.started_at))),
      el("td", { class: "words" }, el("span", { class: `outcome outcome-${outcome[1]}` },
        el("span", { "aria-hidden": "true" }, `${outcome[2]} `), outcome[0] ?? "")),
      el("td", {}, figure("distance", row.reserve_distance_m, units)),
      el("td", {}, figure("energy", row.reserve_energy_kwh, units)),
      el("td", { class: "counts" }, formatNumber(row.event_count, 0), " ", el("span", { class: "row-detail" }, "events")),
      el("td", { class: "counts" }, formatNumber(row.reading_count, 0), " ", el("span", { class: "row-detail" }, "readings")),
      el("td", { class: "counts" }, formatNumber(row.fix_count, 0), " ", el("span", { class: "row-detail" }, "fixes")));
  }

  function show() {
    if (!rows) return;
    count.textContent = rows.length === 1 ? "1 session" : `${rows.length} sessions`;
    host.setAttribute("aria-busy", "false");
    host.replaceChildren(rows.length === 0
      ? el("div", { class: "empty-page" }, el("h2", {}, "Nothing recorded yet"),
        el("p", {}, "Record a session with the phone page, or bring in a session file."),
        el("p", {}, el("a", { href: "/capture" }, "Open the phone page")))
      : el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "Sessions, table" },
        el("table", { class: "figures sessions" },
          el("caption", { class: "visually-hidden" }, "Sessions, newest first; figures with 95 % intervals"),
          el("thead", {}, el("tr", {},
            ...["Session", "Course", "Outcome", "Driven past zero", "Energy past zero", "Record"].map((head, i) =>
              el("th", i === 5 ? { scope: "colgroup", colspan: 3 } : { scope: "col", class: i < 3 ? "words" : null }, head)))),
          el("tbody", {}, ...rows.map(line)))));
  }

  async function load() {
    try {
      rows = (await request("/sessions", { timeoutMs: 120_000 })).sessions;
      show();
    } catch (error) {
      host.setAttribute("aria-busy", "false");
      host.replaceChildren(el("div", { class: "trouble", role: "alert" },
        el("h2", {}, "The sessions can\u2019t be listed"),
        el("p", {}, error instanceof Error ? error.message : String(error)),
        el("p", {}, el("button", { type: "button", class: "primary", onclick: () => void load() }, "Try again"))));
    }
  }

  void load();
  return {
    element,
    /** @param {import("../shared/units.js").Units} next */
    setUnits(next) {
      units = next;
      show();
    },
  };
}

/**
 * The date as the session's own clock had it, whatever zone this desk is in.
 * @param {string | null} stamp RFC 3339
 * @returns {string}
 */
function writtenDate(stamp) {
  const match = /^(\d{4})-(\d\d)-(\d\d)T(\d\d:\d\d)/.exec(stamp ?? "");
  if (!match) return "no date";
  const day = new Date(Date.UTC(Number(match[1]), Number(match[2]) - 1, Number(match[3])));
  const words = new Intl.DateTimeFormat("en-GB", { timeZone: "UTC", day: "numeric", month: "short", year: "numeric" }).format(day);
  return `${words}, ${match[4]}`;
}
