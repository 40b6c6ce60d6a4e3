// @ts-check
/** How it ended, moment by moment: no more propulsion, standstill, contactors open and closed again. */
import { DEFAULT_UNITS, formatNumber, formatPlain, unitOf } from "../../shared/units.js";
import { eventExplained } from "../../shared/vocabulary.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";
import { momentTable } from "./moment-table.js";

/** @typedef {import("../session/model.js").EventRow} EventRow */

const KINDS = new Set(["propulsion_off", "restart", "standstill", "hazards_on", "contactors_open", "contactors_closed"]);

/**
 * @param {Omit<import("../session/model.js").Model, "curves">} model
 * @returns {EventRow[]} those that stand, in order of time
 */
export function endingEvents({ events }) {
  return events.filter(({ record, withdrawn }) => !withdrawn && KINDS.has(record.kind));
}

/**
 * @param {import("../session/model.js").Model} model
 * @param {import("../../shared/units.js").Units} units
 * @param {import("../session/cursor.js").Cursor} cursor
 * @returns {HTMLElement}
 */
export function endingTable(model, units, cursor) {
  const rows = endingEvents(model);
  if (rows.length === 0) return el("p", { class: "empty" }, "No shut-off is on record, and no contactors that opened.");
  const end = rows.find(({ record }) => record.id === model.result.reserve.end_event_id) ?? rows.find(({ record }) => record.kind === "propulsion_off");
  return momentTable(cursor, "How it ended, with 95 % intervals", [
    ["Event", ""], ["Clock", model.clock.zone], ["After it could no longer drive", "min:s"], ["Distance", unitOf("distance", units)],
    ["Past zero", unitOf("distance", units)], ["Energy past zero", "kWh"], ["Speed", unitOf("speed", units)],
  ], rows.map((row) => ({
    atMs: row.atMs, head: eventExplained(row.record.kind), label: `${eventExplained(row.record.kind)} at ${model.clock.time(row.atMs)}`,
    cells: [
      moment(row, model.clock),
      end ? since(row.atMs - end.atMs) : "\u2013",
      figure("distance", row.entry?.distance_m, units, { unit: false }),
      figure("distance", row.entry?.past_zero_m, units, { unit: false }),
      figure("energy", row.entry?.energy_past_zero_kwh, units, { unit: false }),
      figure("speed", row.entry?.speed_mps, units, { unit: false }),
    ],
  })));
}

/** An event's time of day and how surely. @param {EventRow} row @param {import("../session/clock.js").SessionClock} clock */
export function moment({ atMs, entry }, clock) {
  return el("span", { class: "figure" },
    el("span", { class: "figure-value" }, clock.time(atMs)), " ",
    entry && el("span", { class: "figure-interval" }, `\u00b1\u00a0${formatNumber((entry.at_ms.high - entry.at_ms.low) / 2000, 1)}\u00a0s`));
}

/** @param {number} ms */
export function since(ms) {
  return formatPlain("duration", Math.round(ms / 1000), DEFAULT_UNITS);
}
