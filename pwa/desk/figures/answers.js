// @ts-check
/** What is asked after the distance: the warnings, the held speed, the end, each with its few figures. */
import { formatNumber, formatPlain, formatQuantity } from "../../shared/units.js";
import { eventExplained, eventName, eventValue } from "../../shared/vocabulary.js";
import { el } from "../page/dom.js";
import { endingEvents, moment, since } from "./ending.js";

/** @typedef {Omit<import("../session/model.js").Model, "curves">} Model */
/** @typedef {import("../session/model.js").EventRow} EventRow */
/** @typedef {import("../../shared/units.js").Units} Units */
/** @typedef {import("./headline.js").Cell} Cell */
/** @typedef {import("./headline.js").MakeCell} MakeCell */

/**
 * @param {Model} model
 * @param {MakeCell} cell
 * @returns {Cell[]} what was left at the first warning and at the last one before the end
 */
export function warningCells(model, cell) {
  const warnings = standing(model, "warning").filter(({ entry }) => (entry?.left_m?.value ?? 0) >= 0);
  const [first, last] = [warnings[0], warnings.at(-1)];
  if (!first || !last) return [];
  /** @param {string} key @param {string} which @param {EventRow} row */
  const left = (key, which, row) => cell(key, `Left at the ${which} warning`, "distance", row.entry?.left_m ?? undefined,
    [said(row), model.clock.time(row.atMs)].filter(Boolean).join(", "));
  return first === last ? [left("first_warning.left_m", "only", first)] : [left("first_warning.left_m", "first", first), left("last_warning.left_m", "last", last)];
}

/**
 * @param {Model} model
 * @param {Units} units
 * @param {MakeCell} cell
 * @returns {Cell[]} how far past zero the speed that was asked for could be held, else what the car said it capped
 */
export function speedCells(model, units, cell) {
  const asked = model.result.held_speed;
  if (asked) {
    const speed = formatPlain("speed", asked.speed_mps, units, 0);
    const at = (/** @type {import("../session/documents").HeldAt | null} */ place) => (place
      ? [formatQuantity("energy", place.energy_past_zero_kwh, units)].flatMap((told) => (told ? [`${told.value}\u00a0kWh past zero`] : []))[0] ?? "" : "not on record");
    return [
      cell("held_speed.last_held", `${speed} last held, past zero`, "distance", asked.last_held?.past_zero_m ?? undefined, at(asked.last_held)),
      cell("held_speed.first_not_held", `${speed} first not held, past zero`, "distance", asked.first_not_held?.past_zero_m ?? undefined, at(asked.first_not_held)),
    ];
  }
  const caps = standing(model, "speed_capped");
  const [first, last] = [caps[0], caps.at(-1)];
  if (!first || !last) return [];
  /** @param {string} key @param {EventRow} row */
  const capped = (key, row) => cell(key, `Capped to ${eventValue(row.record) || "a top speed"}, past zero`, "distance", row.entry?.past_zero_m ?? undefined,
    `As the car showed it, ${model.clock.time(row.atMs)}`);
  return first === last ? [capped("first_cap.past_zero_m", first)] : [capped("first_cap.past_zero_m", first), capped("last_cap.past_zero_m", last)];
}

/**
 * @param {Model} model
 * @returns {Cell[]} when it could no longer drive, and when the battery was disconnected
 */
export function endingCells(model) {
  const rows = endingEvents(model);
  const end = rows.find(({ record }) => record.id === model.result.reserve.end_event_id) ?? rows.find(({ record }) => record.kind === "propulsion_off");
  const contactors = rows.find(({ record }) => record.kind === "contactors_open");
  return [
    ...(end ? [{ key: "end_moment", name: eventName(end.record.kind), figure: moment(end, model.clock), source: "The car no longer drives" }] : []),
    contactors
      ? { key: "contactors_moment", name: eventName(contactors.record.kind), figure: moment(contactors, model.clock), source: `Battery disconnected${end ? `, ${apart(contactors.atMs - end.atMs)}` : ""}` }
      : { key: "contactors_moment", name: eventName("contactors_open"), figure: el("span", { class: "figure headline-unknown" }, "not noted"), source: "Battery disconnected" },
  ];
}

/** @param {Model} model @param {string} kind */
function standing({ events }, kind) {
  return events.filter(({ record, withdrawn, entry }) => !withdrawn && entry && record.kind === kind);
}

/** @param {EventRow} row */
function said({ record }) {
  return record.text ? `\u201c${record.text}\u201d` : eventExplained(record.kind);
}

/** @param {number} ms from the end */
function apart(ms) {
  const seconds = Math.abs(Math.round(ms / 1000));
  return `${seconds < 60 ? `${formatNumber(seconds, 0)}\u00a0s` : `${since(Math.abs(ms))}\u00a0min`} ${ms < 0 ? "before" : "after"} that`;
}
