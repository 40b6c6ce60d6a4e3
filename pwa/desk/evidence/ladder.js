// @ts-check
/** The ladder: every event in order, with what had been driven and what was left. */
import { formatNumber, unitOf } from "../../shared/units.js";
import { eventDetail, eventName } from "../../shared/vocabulary.js";
import { explained } from "../how/how.js";
import { howDistance, howEnergy, howMoment } from "../how/reached.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";
import { keepingFocus } from "../page/keep-focus.js";
import { oneStop } from "../page/rows.js";
import { player } from "../session/spoken.js";
import { emphasisOf, inGroup } from "../words/event-groups.js";

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {import("../session/model.js").EventRow} EventRow */
/** @typedef {import("../session/documents").RawEvent} RawEvent */
/** @typedef {import("../../shared/units.js").Units} Units */

/**
 * @param {import("../session/cursor.js").Cursor} cursor
 * @param {{ onCorrect: (row: EventRow) => void }} options
 */
export function createLadder(cursor, { onCorrect }) {
  const body = el("tbody");
  const head = el("tr");
  const table = oneStop(el("table", { class: "figures ladder" },
    el("caption", { class: "visually-hidden" }, "Events in order, each figure with its 95 % interval"),
    el("thead", {}, head), body));
  const empty = el("p", { class: "empty", hidden: true }, "No events yet. Add what you know below.");
  const element = el("div", { class: "table-scroll" }, table, empty);
  /** chains whose earlier versions are unfolded, by the id of their first record @type {Set<string>} */
  const unfolded = new Set();
  /** @type {{ row: HTMLTableRowElement, atMs: number }[]} */
  let places = [];
  let group = "all";
  /** @type {[Model, Units] | null} */
  let shown = null;

  /**
   * @param {Model} model
   * @param {Units} units
   */
  function update(model, units) {
    shown = [model, units];
    const wanted = inGroup(group);
    head.replaceChildren(...[
      ["Event", ""], ["Clock", model.clock.zone], ["Distance", unitOf("distance", units)],
      ["Past zero", unitOf("distance", units)], ["Energy past zero", "kWh"],
      ["Left until it stopped", unitOf("distance", units)], ["Left until it stopped", "kWh"], ["Speed", unitOf("speed", units)],
    ].map(([name, unit]) => el("th", { scope: "col" }, name ?? "", unit && el("span", { class: "column-unit" }, unit))),
    el("th", { scope: "col" }, el("span", { class: "visually-hidden" }, "Change")));
    empty.hidden = model.events.length > 0;
    table.hidden = model.events.length === 0;
    places = [];
    keepingFocus(body, () => body.replaceChildren(...model.events.filter(({ record, earlier }) => wanted((earlier.at(-1) ?? record).kind)).flatMap((row) => rowsOf(row, model, units))));
    follow();
  }

  /**
   * @param {EventRow} row
   * @param {Model} model
   * @param {Units} units
   */
  function rowsOf(row, model, units) {
    const { record, earlier, withdrawn, entry, atMs } = row;
    const chain = earlier.at(-1)?.id ?? record.id;
    const standingRecord = withdrawn ? (earlier[0] ?? record) : record;
    const name = eventName(standingRecord.kind);
    const detail = eventDetail(standingRecord);
    const old = (withdrawn ? earlier.slice(1) : earlier).map((version) => earlierRow(version, model));
    const toggle = old.length > 0 && el("button", {
      type: "button", class: "quiet small", "aria-expanded": unfolded.has(chain),
      onclick: (/** @type {MouseEvent} */ event) => {
        event.stopPropagation();
        if (!unfolded.delete(chain)) unfolded.add(chain);
        for (const line of old) line.hidden = !unfolded.has(chain);
        if (toggle) toggle.setAttribute("aria-expanded", String(unfolded.has(chain)));
      },
    }, old.length === 1 ? "1 earlier version" : `${old.length} earlier versions`);
    for (const line of old) line.hidden = !unfolded.has(chain);
    if (toggle) toggle.setAttribute("aria-expanded", String(unfolded.has(chain)));

    const heard = model.spoken.filter(({ event }) => [record, ...earlier].some(({ id }) => id === event));

    const far = () => [...howMoment(row, model), ...howDistance(atMs, model, units)];
    const used = () => [...howMoment(row, model).slice(-1), ...howEnergy(atMs, model)];
    const cells = [
      figure("distance", entry?.distance_m, units, { unit: false }),
      figure("distance", entry?.past_zero_m, units, { unit: false }),
      figure("energy", entry?.energy_past_zero_kwh, units, { unit: false }),
      figure("distance", entry?.left_m, units, { unit: false }),
      figure("energy", entry?.left_kwh, units, { unit: false }),
      figure("speed", entry?.speed_mps, units, { unit: false }),
    ];
    const line = el("tr", {
      class: `ladder-row ladder-${emphasisOf(standingRecord.kind)}${withdrawn ? " is-withdrawn" : ""}`,
      "data-event-id": standingRecord.id, onclick: () => cursor.hold(atMs),
    },
    el("th", { scope: "row" },
      el("button", { type: "button", class: "row-button", "aria-label": `Move the cursor to ${name} at ${model.clock.time(atMs)}` },
        el("span", { class: "row-mark", "aria-hidden": "true" }), withdrawn ? el("s", {}, name) : name),
      detail && el("span", { class: "row-detail" }, withdrawn ? el("s", {}, detail) : detail),
      ...heard.map((note) => player(note, `Spoken note with ${name} at ${model.clock.time(atMs)}`)),
      withdrawn && el("span", { class: "row-detail" }, `Taken back on ${record.device}; the original is kept.`),
      toggle),
    el("td", {}, el("span", { class: "figure" },
      el("span", { class: "figure-value" }, model.clock.time(atMs)), " ",
      entry && el("span", { class: "figure-interval" }, `\u00b1\u00a0${formatNumber((entry.at_ms.high - entry.at_ms.low) / 2000, 1)}\u00a0s`))),
    ...cells.map((cell, i) => explained(el("td", {}, cell), name, i === 2 || i === 4 ? used : far)),
    el("td", { class: "row-actions" }, el("button", {
      type: "button", class: "quiet small", "aria-label": `${withdrawn ? "Restore" : "Correct"} ${name} at ${model.clock.time(atMs)}`,
      onclick: (/** @type {MouseEvent} */ event) => {
        event.stopPropagation();
        cursor.hold(atMs);
        onCorrect(row);
      },
    }, withdrawn ? "Restore" : "Correct")));
    places.push({ row: line, atMs });
    return [line, ...old];
  }

  /**
   * @param {RawEvent} version
   * @param {Model} model
   */
  function earlierRow(version, model) {
    const detail = eventDetail(version);
    return el("tr", { class: "earlier-row", "data-event-id": version.id },
      el("th", { scope: "row" }, el("span", { class: "visually-hidden" }, "Earlier: "),
        el("s", {}, eventName(version.kind), detail && ` \u00b7 ${detail}`)),
      el("td", {}, el("s", {}, model.clock.time(version.t_ms))),
      el("td", { colspan: 7, class: "earlier-source" }, `as recorded on ${version.device}`));
  }

  function follow() {
    const tMs = cursor.at();
    const current = tMs === null ? null : places.filter(({ atMs }) => atMs <= tMs + 1).at(-1)?.row ?? null;
    for (const { row } of places) {
      row.classList.toggle("is-current", row === current);
    }
  }

  cursor.follow(follow);
  return {
    element, update,
    /** @param {string} name of a group of events */
    filter(name) {
      group = name;
      if (shown) update(...shown);
    },
  };
}
