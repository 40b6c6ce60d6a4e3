// @ts-check
/** The same plan for the next car: a new session, empty of everything that was that day's. */
import { request } from "../../shared/api.js";
import { el } from "../page/dom.js";
import { createFormStatus, point } from "../page/form-status.js";

/** @typedef {import("../session/documents").Setup} Setup */

/**
 * What carries over is how a run is driven and where: vehicle, course with its checked lap, protocol.
 * @param {Setup} setup
 * @param {{ id: string, title: string, vehicle: string, software: string }} next
 * @returns {Setup}
 */
export function nextSetup(setup, { id, title, vehicle, software }) {
  const copy = structuredClone(setup);
  delete copy.excluded; // stretches of that day's fixes
  delete copy.devices; // that day's clocks
  delete copy.conditions;
  delete (/** @type {{ revised?: unknown }} */ (copy).revised);
  if (copy.protocol?.zero_basis === "moment") delete copy.protocol.zero_basis;
  delete copy.protocol?.zero_ms;
  copy.session = { id, title, time_zone: copy.session?.time_zone ?? null };
  // another car of the same make-up, as a start: what differs is corrected in its choices
  copy.vehicle = { ...copy.vehicle, label: vehicle, software: software || null };
  delete copy.vehicle.odometer_km;
  return copy;
}

/**
 * @param {() => Promise<void>} onMade
 * @returns {{ element: HTMLDialogElement, open: (row: import("../session/documents").SessionRow) => void }}
 */
export function createDuplicate(onMade) {
  /** @type {import("../session/documents").SessionRow | null} */
  let from = null;
  const title = el("input", { id: "next-title", type: "text", size: 32, autocomplete: "off" });
  const vehicle = el("input", { id: "next-vehicle", type: "text", size: 24, autocomplete: "off" });
  const software = el("input", { id: "next-software", type: "text", size: 12, autocomplete: "off" });
  const status = createFormStatus();
  const about = el("p", { class: "form-note" });
  const make = el("button", { type: "submit", class: "primary" }, "Make the session");
  const element = el("dialog", { class: "card small-dialog", "aria-labelledby": "next-dialog-title" },
    el("form", {
      novalidate: true, onsubmit: (/** @type {Event} */ event) => {
        event.preventDefault();
        void send();
      },
    },
    el("h2", { id: "next-dialog-title" }, "The same plan for the next car"), about,
    el("div", { class: "fields" }, ...[["Title", title], ["Car", vehicle], ["Its software", software]].map(([words, input]) =>
      el("div", { class: "field" }, el("label", { for: /** @type {HTMLElement} */ (input).id }, /** @type {string} */ (words)), /** @type {HTMLElement} */ (input)))),
    el("div", { class: "form-actions" }, make, el("button", { type: "button", class: "quiet", onclick: () => element.close() }, "Cancel"), status.element)));

  async function send() {
    if (!from) return;
    if (title.value.trim() === "") return point(title);
    if (vehicle.value.trim() === "") return point(vehicle);
    make.disabled = true;
    status.say("Making it\u2026", "soft");
    try {
      const { setup } = await request(`/sessions/${encodeURIComponent(from.id)}`);
      const id = crypto.randomUUID();
      const next = nextSetup(setup, { id, title: title.value.trim(), vehicle: vehicle.value.trim(), software: software.value.trim() });
      await request(`/sessions/${id}`, { method: "PUT", body: { base: null, setup: next } });
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
      from = row;
      about.textContent = `From \u201c${row.title ?? row.vehicle_label ?? "a session without a name"}\u201d: the car\u2019s data, course and plan carry over; what was recorded, that day\u2019s conditions, clocks and left-out positions don\u2019t.`;
      title.value = "";
      vehicle.value = row.vehicle_label ?? "";
      software.value = "";
      status.say("", "soft");
      element.showModal();
      title.focus();
    },
  };
}
