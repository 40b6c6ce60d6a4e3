// @ts-check
/** Before the drive: cautions that must be accepted, and what makes the run worth its risk. */
import { h, onTap } from "./dom.js";

/** @typedef {{ id: string, text: string }} Item */

/** @type {Item[]} */
export const CAUTIONS = [
  { id: "passenger", text: "The passenger operates this phone, never the driver." },
  { id: "closed_course", text: "Closed course, with the owner's permission. Never on a public road." },
  { id: "chase_vehicle", text: "A chase vehicle with lights follows; the way to get the car off the course is agreed." },
  { id: "high_voltage", text: "High-voltage work only by qualified people." },
  { id: "warranty", text: "The maker's warranty and manual were read; deep discharge can harm a pack." },
  { id: "local_rules", text: "Local rules and licensed practice come before anything shown here." },
];

/** @type {Item[]} */
export const READINESS = [
  { id: "charged_full", text: "Charged fully and calibrated beforehand" },
  { id: "pack_warm", text: "Pack at driving temperature" },
  { id: "tyres", text: "Tyre pressures set" },
  { id: "climate", text: "Climate setting chosen and noted" },
  { id: "trip_meter", text: "Trip meter found, reset understood" },
  { id: "charger", text: "Charger free, ready and reachable" },
];

/** @typedef {{ id: string, text: string, ticked_ms: number, lat: number | null, lon: number | null }} Tick */

/**
 * @param {object} parts
 * @param {string} parts.title
 * @param {Tick[]} parts.ticks from an earlier visit
 * @param {() => { ticked_ms: number, lat: number | null, lon: number | null }} parts.here
 * @param {(ticks: Tick[]) => Promise<void>} parts.start
 * @param {() => void} parts.back
 */
export function createChecklistView({ title, ticks, here, start, back }) {
  /** @type {Map<string, Tick>} */
  const ticked = new Map(ticks.map((tick) => [tick.id, tick]));
  const missing = h("p", { class: "missing", role: "status" });
  const go = h("button", { type: "button", class: "key wide primary", "data-action": "start" },
    h("span", {}, "Accept and start recording"));

  /** @param {Item} item */
  const row = (item) => {
    const input = h("input", { type: "checkbox", name: item.id, checked: ticked.has(item.id) });
    input.addEventListener("change", () => {
      if (input.checked) ticked.set(item.id, { ...item, ...here() });
      else ticked.delete(item.id);
      update();
    });
    return h("label", { class: "check" }, input, h("span", {}, item.text));
  };

  function update() {
    const left = CAUTIONS.filter((item) => !ticked.has(item.id)).length;
    go.disabled = left > 0;
    missing.textContent = left ? `${left} of ${CAUTIONS.length} cautions still to accept` : "All cautions accepted.";
  }

  onTap(go, () => {
    if (go.disabled) return;
    go.disabled = true; // a second touch must not start a second recording
    void start([...ticked.values()]).finally(update);
  });
  const cancel = h("button", { type: "button", class: "quiet" }, "Back");
  onTap(cancel, back);
  update();
  return h("main", { class: "page checklist" },
    h("header", { class: "masthead small" }, h("h1", {}, "Before the drive"), h("p", {}, title), cancel),
    h("section", { class: "cautions" }, h("h2", {}, "Cautions"), h("p", { class: "lead" }, "Read each aloud. All must be accepted."), ...CAUTIONS.map(row)),
    h("section", { class: "readiness" }, h("h2", {}, "Ready?"), h("p", { class: "lead" }, "Kept with the session; none stops you."), ...READINESS.map(row)),
    h("footer", { class: "dock" }, missing, go));
}
