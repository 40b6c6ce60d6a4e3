// @ts-check
/** The timeline: speed, distance, energy, displayed % and the display's own figures, one cursor. */
import { convert, formatQuantity, unitOf } from "../../shared/units.js";
import { READINGS, readingName } from "../../shared/vocabulary.js";
import { el } from "../page/dom.js";
import { quantityAt } from "../session/curves.js";
import { displayedSoc } from "../session/model.js";
import { inGroup } from "../words/event-groups.js";
import { recordWords } from "../words/wording.js";
import { layAlong } from "./run-axis.js";
import { countsFromZero, runDrawing } from "./run-drawing.js";
import { runTable } from "./run-table.js";
import { createStrip } from "./strip.js";

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {import("../../shared/units.js").Units} Units */
/** @typedef {import("../session/curves.js").AxisName} AxisName */

const PANELS = [
  { id: "speed", height: 116 }, { id: "distance", height: 72 }, { id: "energy", height: 150 },
  { id: "soc", height: 52 }, { id: "display", height: 76 },
];

/**
 * @param {import("../session/cursor.js").Cursor} cursor
 * @param {object} options
 * @param {(eventId: string) => void} options.onFlag an event is to be shown
 * @param {HTMLElement} options.filter where it is chosen which events have a flag
 */
export function createTimeline(cursor, { onFlag, filter }) {
  /** @type {Model | null} */
  let model = null;
  /** @type {Units | null} */
  let units = null;
  /** @type {AxisName} */
  let axis = "time";
  /** @type {ReturnType<typeof layAlong> | null} */
  let run = null;
  let group = "all";
  /** @type {{ atMs: number, soc: number }[]} */
  let soc = [];
  let shownQuantity = "";

  const strip = createStrip({
    label: "Moment on the timeline", panels: PANELS, top: 66,
    onSeek: (x, hold) => {
      const tMs = run?.momentAt(x) ?? null;
      if (tMs !== null) (hold ? cursor.hold : cursor.hover)(tMs);
    },
    onLeap: (step) => {
      const now = cursor.at() ?? -Infinity;
      const rows = flagged();
      const next = step === "next"
        ? rows.find(({ atMs }) => atMs > now + 1) : rows.filter(({ atMs }) => atMs < now - 1).at(-1);
      if (next) cursor.hold(next.atMs);
    },
    onFlag: (id) => {
      const at = cursor.at();
      const row = flagged().find(({ record, atMs }) => (id === null ? at !== null && Math.abs(atMs - at) < 1000 : record.id === id));
      if (!row) return;
      cursor.hold(row.atMs);
      onFlag(row.record.id);
    },
    onRelease: cursor.release, onLeave: cursor.leave,
  });
  const [speedTitle, distanceTitle, energyTitle, socTitle, displayTitle] = strip.titles;
  const quantityChoice = el("select", {
    class: "quiet-select", "aria-label": "Display figure drawn",
    onchange: () => {
      shownQuantity = quantityChoice.value;
      draw();
    },
  });

  const unitShown = el("span", { class: "strip-unit" });
  displayTitle?.append(quantityChoice, unitShown);

  /** @type {[AxisName, string][]} */
  const axes = [["time", "Clock"], ["distance", "Distance"], ["past_zero", "Past zero"]];
  const axisChoice = el("fieldset", { class: "segments" },
    el("legend", { class: "visually-hidden" }, "Horizontal axis"),
    ...axes.map(([name, words]) => el("label", {},
      el("input", {
        type: "radio", name: "axis", value: name, checked: name === axis,
        onchange: () => {
          axis = name;
          draw();
        },
      }), el("span", {}, words))));
  const fromZero = el("button", { type: "button", class: "quiet", onclick: showFromZero }, "From zero on");
  const zooms = el("div", { class: "button-row" },
    el("button", { type: "button", class: "quiet", onclick: () => strip.show(null) }, "Whole run"), fromZero,
    el("button", { type: "button", class: "quiet", "aria-label": "Show less of the run", title: "Zoom in", onclick: () => strip.zoom(0.5) }, "+"),
    el("button", { type: "button", class: "quiet", "aria-label": "Show more of the run", title: "Zoom out", onclick: () => strip.zoom(2) }, "\u2212"));
  const tableHost = el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "Figures behind the charts" });
  const behind = el("details", { class: "behind", ontoggle: () => fillTable() },
    el("summary", {}, "Figures behind the charts"), tableHost);
  const element = el("div", { class: "timeline" },
    el("div", { class: "timeline-bar" }, axisChoice, filter, zooms),
    strip.element,
    el("div", { class: "timeline-foot" }, behind,
      el("details", { class: "behind" }, el("summary", {}, "Mouse and keys"), el("p", { class: "hint" }, "Bands are 95 % intervals, bars what a display can have meant. Drag marks a part to zoom into, Shift and drag (or one finger) moves it, Ctrl and wheel (or two fingers) zooms, click holds the cursor. Keys: \u2190 \u2192 move it, Page Up and Down go to events and Enter opens one, + \u2212 0 zoom, comma and full stop move the part in view, Esc lets go."))));

  function flagged() {
    const wanted = inGroup(group);
    return model?.events.filter(({ record, withdrawn }) => !withdrawn && wanted(record.kind)) ?? [];
  }

  function showFromZero() {
    if (!model || !run) return;
    const zero = model.result.zero.t_ms;
    const end = model.events.find(({ record, withdrawn }) => !withdrawn && record.id === model?.result.reserve.end_event_id);
    const from = zero === null ? null : run.placeOf(zero);
    const last = run.range()[1];
    const to = end ? (run.placeOf(end.atMs) ?? last) : last;
    if (from === null) return;
    const margin = Math.abs(to - from) * 0.04;
    strip.show([from - margin, to + margin]);
  }

  function draw() {
    if (!model || !units) return;
    run = layAlong(model, units, axis);
    soc = displayedSoc(model);
    const { drawing, energyWords, displayUnit } = runDrawing(model, units, { axis, along: run, quantity: shownQuantity, flagged: flagged() });
    const unit = (/** @type {string} */ words) => el("span", { class: "strip-unit" }, words);
    speedTitle?.replaceChildren("Speed", unit(unitOf("speed", units)));
    distanceTitle?.replaceChildren(countsFromZero(model) ? "Distance past zero" : "Distance", unit(units.distance));
    energyTitle?.replaceChildren("Energy past zero", unit(energyWords));
    socTitle?.replaceChildren("Displayed charge");
    unitShown.textContent = displayUnit;
    void strip.draw(drawing);
    follow();
  }

  function follow() {
    const tMs = cursor.at();
    if (!model || !units || !run || tMs === null) return;
    const { curves } = model;
    const aside = cursor.pointed();
    strip.point(aside === null ? null : run.placeOf(aside), aside === null ? "" : pointedWords(aside));
    const read = (/** @type {import("../session/curves.js").Band} */ band) => quantityAt(curves.t_ms, band, tMs);
    const speed = read(curves.speed_mps);
    const past = read(curves.past_zero_m);
    const energy = read(curves.energy_past_zero_kwh);
    const along = past ?? read(curves.distance_m);
    strip.mark({
      x: run.placeOf(tMs),
      dots: [
        speed && convert("speed", speed.value, units), along && convert("distance", along.value, units),
        energy && energy.value, socAt(tMs), null,
      ],
    }, spoken(tMs, past && formatQuantity("distance", past, units)));
  }

  /**
   * What is under a pointer while the cursor is held elsewhere.
   * @param {number} tMs
   */
  function pointedWords(tMs) {
    if (!model || !units) return "";
    const { curves, clock } = model;
    /** @type {[import("../../shared/units.js").Dimension, import("../session/curves.js").Band][]} */
    const figures = [["distance", curves.past_zero_m], ["energy", curves.energy_past_zero_kwh], ["speed", curves.speed_mps]];
    const shown = units;
    return [clock.time(tMs), ...figures.flatMap(([dimension, band]) => {
      const told = formatQuantity(dimension, quantityAt(curves.t_ms, band, tMs), shown);
      return told ? [`${told.value}\u00a0${told.unit}`] : [];
    })].join(" \u00b7 ");
  }

  /**
   * A step of the slider in few words: each key says them again, and the line above has the rest.
   * @param {number} tMs
   * @param {{ value: string, unit: string } | null} past
   */
  function spoken(tMs, past) {
    const here = flagged().filter(({ atMs }) => Math.abs(atMs - tMs) < 1).at(-1)?.record;
    return [here && recordWords(here), model?.clock.time(tMs), past && `${past.value}\u00a0${past.unit} past zero`].filter(Boolean).join(", ");
  }

  /** @param {number} tMs */
  function socAt(tMs) {
    return soc.filter(({ atMs }) => atMs <= tMs).at(-1)?.soc ?? null;
  }

  function fillTable() {
    if (behind.open && model && units) tableHost.replaceChildren(runTable(model, units, socAt));
  }

  cursor.follow(follow);
  return {
    element, socAt, draw,
    /** @returns {[number, number] | null} the part in view, session time */
    viewed() {
      const [from, to] = strip.view().map((x) => run?.momentAt(x) ?? null);
      return typeof from === "number" && typeof to === "number" ? [from, to] : null;
    },
    /** @param {string} name of the group of events that have a flag */
    filter(name) {
      group = name;
      draw();
    },
    /** @param {number} fromMs @param {number} toMs bring a part into view */
    lookAt(fromMs, toMs) {
      const [from, to] = [run?.placeOf(fromMs) ?? null, run?.placeOf(toMs) ?? null];
      strip.show(from === null || to === null || to <= from ? null : [from, to]);
    },
    /** @param {Model} nextModel @param {Units} nextUnits */
    update(nextModel, nextUnits) {
      model = nextModel;
      units = nextUnits;
      const present = Object.keys(READINGS).filter((quantity) => quantity !== "soc"
        && nextModel.readings.some(({ record, withdrawn }) => !withdrawn && record.quantity === quantity));
      if (!present.includes(shownQuantity)) {
        shownQuantity = ["power_available", "range_shown", "pack_voltage", "trip_energy"]
          .find((quantity) => present.includes(quantity)) ?? present[0] ?? "";
      }
      quantityChoice.replaceChildren(...(present.length ? present : [""]).map((quantity) =>
        el("option", { value: quantity, selected: quantity === shownQuantity },
          quantity ? readingName(quantity) : "No display readings yet")));
      quantityChoice.disabled = present.length === 0;
      const hasZero = nextModel.curves.past_zero_m.value.some((value) => value !== null);
      const pastZero = /** @type {HTMLInputElement | null} */ (axisChoice.querySelector("[value=past_zero]"));
      if (pastZero) pastZero.disabled = !hasZero;
      fromZero.disabled = !hasZero;
      if (!hasZero && axis === "past_zero") axis = "time";
      draw();
      fillTable();
      if (cursor.at() === null) {
        const start = nextModel.result.zero.t_ms ?? nextModel.curves.t_ms[0];
        if (start !== undefined) cursor.hover(start);
      }
    },
  };
}
