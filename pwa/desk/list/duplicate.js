// @ts-check
/** The same plan for the next car: a new session, empty of everything that was the other car's. */
import { request } from "../../shared/api.js";
import { FACTS, factsOf, missingFact } from "../../shared/facts.js";
import { el } from "../page/dom.js";
import { createFactField } from "../page/fact-field.js";
import { createFormStatus, point } from "../page/form-status.js";
import { forgetKnown, known } from "../session/known.js";
import { withChanges } from "../words/setup-fields.js";

/** @typedef {import("../session/documents").Setup} Setup */
/** @typedef {import("../../shared/facts.js").Facts} Facts */

/**
 * What carries over is how a run is driven and where: course with its checked lap, plan; and the
 * day where it is the same.
 * @param {Setup} setup
 * @param {{ id: string, title: string, label: string, facts: Facts, sameDay: boolean }} next facts of the car
 * @returns {Setup}
 */
export function nextSetup(setup, { id, title, label, facts, sameDay }) {
  const copy = structuredClone(setup);
  delete copy.excluded; // stretches of that day's fixes
  delete copy.devices; // that day's clocks
  delete copy.conditions;
  delete (/** @type {{ revised?: unknown }} */ (copy).revised);
  if (copy.protocol?.zero_basis === "moment") delete copy.protocol.zero_basis;
  delete copy.protocol?.zero_ms;
  copy.session = { id, title, time_zone: copy.session?.time_zone ?? null };
  copy.vehicle = { label };
  const day = sameDay ? factsOf(setup, (fact) => fact.of === "day") : {};
  const known = Object.entries({ ...facts, ...day }).filter(([, value]) => value !== null);
  return withChanges(copy, new Map(known));
}

/**
 * @param {() => Promise<void>} onMade
 * @returns {{ element: HTMLDialogElement, open: (row: import("../session/documents").SessionRow) => void }}
 */
export function createDuplicate(onMade) {
  /** @type {Setup | null} of the session that it starts from */
  let from = null;
  let opened = 0;
  /** the label whose facts the fields were filled with */
  let filledFor = "";
  const title = el("input", { id: "next-title", type: "text", size: 32, autocomplete: "off" });
  const vehicle = el("input", { id: "next-vehicle", type: "text", size: 24, autocomplete: "off", list: "next-cars", oninput: () => void follow() });
  const labels = el("datalist", { id: "next-cars" });
  const fields = Object.entries(FACTS).filter(([, fact]) => fact.of === "car" && fact.kind !== "flag")
    .map(([path]) => Object.assign(createFactField(path, "next"), { filled: "" }));
  const sameDay = el("input", { id: "next-same-day", type: "checkbox" });
  const status = createFormStatus();
  const about = el("p", { class: "form-note" });
  const note = el("p", { class: "form-note", role: "status" });
  const make = el("button", { type: "submit", class: "primary" }, "Make the session");
  const element = el("dialog", { class: "card small-dialog", "aria-labelledby": "next-dialog-title" },
    el("form", {
      novalidate: true, onsubmit: (/** @type {Event} */ event) => {
        event.preventDefault();
        void send();
      },
    },
    el("h2", { id: "next-dialog-title" }, "The same plan for the next car"), about,
    el("div", { class: "fields" }, ...[["Title", title], ["Car", vehicle]].map(([words, input]) =>
      el("div", { class: "field" }, el("label", { for: /** @type {HTMLElement} */ (input).id }, /** @type {string} */ (words)), /** @type {HTMLElement} */ (input))), labels),
    note,
    el("div", { class: "fields" }, ...fields.map((field) => field.element)),
    el("label", { class: "same-day" }, sameDay, " The same day: its weather, road, climate setting and charger carry over"),
    el("div", { class: "form-actions" }, make, el("button", { type: "button", class: "quiet", onclick: () => element.close() }, "Cancel"), status.element)));

  /** The fields show what is known of the car that is named; what was typed stays. */
  async function follow() {
    const label = vehicle.value.trim();
    if (label === filledFor) return;
    filledFor = label;
    const car = (await known()).cars.find((one) => one.label === label);
    if (label !== vehicle.value.trim()) return;
    for (const field of fields) {
      if (field.input.value !== field.filled) continue;
      field.fill(car?.facts[field.path] ?? null);
      field.filled = field.input.value;
    }
    note.textContent = car ? "Filled in as this car was last." : label ? "A car not known here: fill in what you know of it." : "";
  }

  /** @param {import("../session/documents").SessionRow} row */
  async function start(row) {
    const mine = (opened += 1);
    make.disabled = true;
    try {
      const [{ setup }, { cars }] = await Promise.all([request(`/sessions/${encodeURIComponent(row.id)}`), known()]);
      if (mine !== opened) return;
      from = setup;
      labels.replaceChildren(...cars.map((car) => el("option", { value: car.label })));
      await follow();
      make.disabled = false;
    } catch (error) {
      if (mine === opened) status.say(`It can\u2019t be started from: ${error instanceof Error ? error.message : error}`, "alarm");
    }
  }

  async function send() {
    if (!from) return;
    if (title.value.trim() === "") return point(title);
    if (vehicle.value.trim() === "") return point(vehicle);
    await follow();
    /** @type {Facts} */
    const facts = {};
    for (const field of fields) {
      const { value, problem } = field.read();
      if (problem) {
        status.say(problem, "alarm");
        return point(field.input);
      }
      facts[field.path] = value;
    }
    const missing = missingFact(facts);
    if (missing) return status.say(missing, "alarm");
    make.disabled = true;
    status.say("Making it\u2026", "soft");
    try {
      const id = crypto.randomUUID();
      const next = nextSetup(from, { id, title: title.value.trim(), label: vehicle.value.trim(), facts, sameDay: sameDay.checked });
      await request(`/sessions/${id}`, { method: "PUT", body: { base: null, setup: next } });
      forgetKnown();
      element.close();
      await onMade();
    } catch (error) {
      status.say(`Not made: ${error instanceof Error ? error.message : error}`, "alarm");
    } finally {
      make.disabled = false;
    }
  }

  return {
    element,
    open(row) {
      from = null;
      about.textContent = `From \u201c${row.title ?? row.vehicle_label ?? "a session without a name"}\u201d: course and plan carry over; what was recorded, clocks and left-out positions don\u2019t. Of the car only what is known of it.`;
      title.value = "";
      vehicle.value = row.vehicle_label ?? "";
      filledFor = "";
      for (const field of fields) {
        field.fill(null);
        field.filled = "";
      }
      note.textContent = "";
      sameDay.checked = isToday(row.started_at);
      status.say("", "soft");
      element.showModal();
      title.focus();
      void start(row);
    },
  };
}

/** @param {string | null} startedAt RFC 3339 @returns {boolean} true also for one that has not begun */
function isToday(startedAt) {
  return !startedAt || new Date(startedAt).toDateString() === new Date().toDateString();
}
