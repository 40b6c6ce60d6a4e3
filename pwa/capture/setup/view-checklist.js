// @ts-check
/** Before the drive: cautions that must be accepted, and what makes the run worth its risk. */
import { h, onTap, say } from "../page/dom.js";

/** @typedef {{ id: string, text: string }} Item */

/** @type {Item[]} */
export const CAUTIONS = [
  { id: "passenger", text: "The passenger operates this phone, never the driver." },
  { id: "closed_course", text: "Closed course, with the owner's permission. Never on a public road." },
  { id: "chase_vehicle", text: "A chase vehicle with lights follows; the way to get the car off the course is agreed." },
  { id: "high_voltage", text: "High-voltage work only by qualified people." },
  { id: "warranty", text: "The maker's warranty and manual were read; deep discharge can harm a battery." },
  { id: "local_rules", text: "Local rules and licensed practice come before anything shown here." },
];

/** @type {Item[]} */
export const READINESS = [
  { id: "charged_full", text: "Charged fully and calibrated beforehand" },
  { id: "pack_warm", text: "Battery at driving temperature" },
  { id: "tyres", text: "Tyre pressures set" },
  { id: "climate", text: "Climate setting chosen and noted" },
  { id: "trip_meter", text: "Trip meter found, reset understood" },
  { id: "chase_ready", text: "Chase vehicle behind, its crew briefed" },
  { id: "lights", text: "Lights tried: hazards here, beacon on the chase vehicle" },
  { id: "way_out", text: "Way off the course clear, tow rope or trailer at hand" },
  { id: "charger", text: "Charger free, ready and reachable" },
];

/** @param {import("./types").ChecklistParts} parts */
export function createChecklistView({ title, about, lapCheck, ticked: before, tick, gate, start, edit, back }) {
  const ticked = new Set(before);
  const missing = h("p", { class: "missing", role: "status" });
  const goLabel = h("span");
  const goHint = h("small");
  const go = h("button", { class: "key wide primary", "data-action": "start" }, goLabel, goHint);

  /** @param {Item} item */
  const row = (item) => {
    const input = h("input", { type: "checkbox", name: item.id, checked: ticked.has(item.id) });
    input.addEventListener("change", () => void keep(item, input));
    return h("label", { class: "check" }, input, h("span", {}, item.text));
  };

  /** A tick counts once it is durable. @param {Item} item @param {HTMLInputElement} input */
  async function keep(item, input) {
    const { checked } = input;
    try {
      await tick(item, checked);
      if (checked) ticked.add(item.id);
      else ticked.delete(item.id);
      update();
    } catch {
      input.checked = !checked;
      missing.textContent = "Not stored: this phone's storage takes nothing. Free some space and tick again.";
    }
  }

  /** Starting without what a recording needs is a choice: the key says so. */
  function showChoice() {
    say(goLabel, gate.hasPosition() ? "Accept and start recording" : "Start without a position");
    say(goHint, gate.without());
  }

  function update() {
    showChoice();
    const left = CAUTIONS.filter((item) => !ticked.has(item.id)).length;
    go.disabled = laps.disabled = left > 0;
    missing.textContent = left ? `${left} of ${CAUTIONS.length} cautions still to accept` : "All cautions accepted.";
  }

  /** @param {HTMLButtonElement} key @param {import("./setup.js").Purpose} purpose */
  const startBy = (key, purpose) => onTap(key, () => {
    if (go.disabled) return;
    go.disabled = laps.disabled = true; // a second touch must not start a second recording
    void start(purpose).finally(update);
  });
  const laps = h("button", { class: "quiet", "data-action": "laps-first" }, "Check a lap first");
  startBy(go, lapCheck ? "lap_check" : "run");
  startBy(laps, "lap_check");
  const cancel = h("button", { class: "quiet" }, "Back");
  onTap(cancel, back);
  const change = h("button", { class: "quiet", "data-action": "edit" }, "Plan");
  onTap(change, edit);
  gate.onChange(showChoice);
  update();
  return h("main", { class: "page checklist" },
    h("header", { class: "masthead small" }, h("h1", {}, lapCheck ? "Before the lap check" : "Before the drive"), h("p", {}, title), cancel),
    h("section", { class: "plan" }, h("p", {}, about), change),
    h("section", { class: "cautions" }, h("h2", {}, "Cautions"), h("p", { class: "lead" }, "Read each aloud. All must be accepted."), ...CAUTIONS.map(row)),
    gate.element,
    lapCheck ? null : h("section", { class: "readiness" }, h("h2", {}, "Ready?"), h("p", { class: "lead" }, "Each tick is kept with its time and place; none stops you."), ...READINESS.map(row)),
    lapCheck ? null : laps,
    h("footer", { class: "dock" }, missing, go));
}
