// @ts-check
/** What the car still gave floored: the speed it settled at, and the power which that takes. */
import { unitOf } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";
import { momentTable } from "./moment-table.js";

/**
 * @param {import("../session/model.js").Model} model
 * @param {import("../../shared/units.js").Units} units
 * @param {import("../session/cursor.js").Cursor} cursor
 * @returns {HTMLElement}
 */
export function limitTable({ result, clock }, units, cursor) {
  const { limits } = result;
  if (limits.length === 0) return el("p", { class: "empty" }, "No stretch with the throttle floored is on record.");
  return momentTable(cursor, "Stretches with the throttle floored, with 95 % intervals", [
    ["From", ""], ["To", ""], ["Settled speed", unitOf("speed", units)], ["Past zero", unitOf("distance", units)], ["Energy past zero", "kWh"],
    ["Grade", "%"], ["At the wheels", "kW"], ["From the battery", "kW"],
  ], limits.map((limit) => ({
    atMs: limit.from_ms, head: clock.time(limit.from_ms), label: clock.time(limit.from_ms),
    cells: [
      clock.time(limit.to_ms),
      figure("speed", limit.speed_mps, units, { unit: false }),
      figure("distance", limit.past_zero_m, units, { unit: false }),
      figure("energy", limit.energy_past_zero_kwh, units, { unit: false }),
      figure("percent", limit.grade_pct, units, { unit: false }),
      figure("power", limit.wheels_kw, units, { unit: false }),
      figure("power", limit.pack_kw, units, { unit: false }),
    ],
  })));
}
