// @ts-check
/** The readout line: the figures at the cursor, in fixed places so that nothing jumps. */
import { formatNumber } from "../../shared/units.js";
import { eventName } from "../../shared/vocabulary.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";
import { quantityAt } from "../session/curves.js";

/**
 * @param {import("../session/cursor.js").Cursor} cursor
 * @param {(tMs: number) => number | null} socAt displayed % at a moment
 */
export function createReadout(cursor, socAt) {
  /** @type {import("../session/model.js").Model | null} */
  let model = null;
  /** @type {import("../../shared/units.js").Units | null} */
  let units = null;

  const names = /** @type {const} */ (["Clock", "Past zero", "Energy past zero", "Speed", "Displayed", "Distance", "Last event"]);
  const cells = names.map((name) => {
    const value = el("dd", {}, "\u2013");
    return { value, box: el("div", { class: `readout-cell readout-${name.toLowerCase().replaceAll(" ", "-")}` }, el("dt", {}, name), value) };
  });
  const release = el("button", { type: "button", class: "readout-release", onclick: cursor.release }, "Held \u00b7 release");
  const element = el("div", { class: "readout" },
    el("dl", { class: "readout-cells", "aria-label": "At the cursor" }, ...cells.map(({ box }) => box)), release);

  function follow() {
    const tMs = cursor.at();
    release.style.visibility = cursor.held() ? "visible" : "hidden";
    if (!model || !units || tMs === null) return;
    const { curves, clock, events } = model;
    const read = (/** @type {import("../session/curves.js").Band} */ band) => quantityAt(curves.t_ms, band, tMs);
    const soc = socAt(tMs);
    // on an event its own figures are read, as its card and the ladder give them
    const own = events.filter(({ entry, atMs }) => entry && Math.abs(atMs - tMs) < 1).at(-1)?.entry;
    const last = events.filter(({ withdrawn, atMs }) => !withdrawn && atMs <= tMs + 1).at(-1);
    const contents = [
      clock.time(tMs),
      figure("distance", own ? own.past_zero_m : read(curves.past_zero_m), units),
      figure("energy", own ? own.energy_past_zero_kwh : read(curves.energy_past_zero_kwh), units),
      figure("speed", own ? own.speed_mps : read(curves.speed_mps), units),
      soc === null ? "\u2013" : `${formatNumber(soc, soc % 1 ? 1 : 0)}\u00a0%`,
      figure("distance", own ? own.distance_m : read(curves.distance_m), units),
      last ? (last.record.text || eventName(last.record.kind)) : "\u2013",
    ];
    cells.forEach(({ value }, i) => value.replaceChildren(contents[i] ?? ""));
  }

  cursor.follow(follow);
  follow();
  return {
    element,
    /**
     * @param {import("../session/model.js").Model} nextModel
     * @param {import("../../shared/units.js").Units} nextUnits
     */
    update(nextModel, nextUnits) {
      model = nextModel;
      units = nextUnits;
      follow();
    },
  };
}
