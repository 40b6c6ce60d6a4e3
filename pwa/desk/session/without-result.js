// @ts-check
/** What a session's page shows when the server can't work the figures out: everything but them. */

/**
 * @param {string} why the server's own words
 * @param {number} revision of the set-up
 * @returns {import("./documents").ResultDocument} no figure is known, and one finding says why
 */
export function noResult(why, revision) {
  return {
    engine: "", input_sha256: `none of revision ${revision}`,
    distance: { total_m: null, polyline_m: null, method: "", gaps: [] },
    laps: [], lap_check: null, trip_check: null,
    zero: { basis: null, t_ms: null, trip_reset_after_m: null, zero_range_after_m: null },
    reserve: { distance_m: null, energy_kwh: null, duration_s: null, share_of_usable_pct: null, shut_down_before_zero: false, ends_at: null, end_event_id: null, first_end: null, last_end: null, basis: null, from_zero_range: null, from_zero_soc: null },
    shown: null,
    timeline: [], limits: [], recharge: null, held_speed: null, pack_voltage: [],
    consumption: { past_zero_wh_per_km: null, by_speed: [] },
    balance: null,
    findings: [{
      severity: "error", code: "analysis_failed", where: "", told: [],
      message: `No figure can be worked out: ${why}. Everything recorded, chosen and changed is here all the same. What was imported or corrected last is the likeliest cause: leave its positions out, or take it back.`,
    }],
  };
}

/** @returns {import("./documents").CurvesDocument} without a point */
export function noCurves() {
  const band = () => ({ value: [], low: [], high: [] });
  return {
    t_ms: [], lat: [], lon: [], speed_mps: band(), distance_m: band(), past_zero_m: band(),
    energy_past_zero_kwh: band(), in_gap: [],
    recharge_t_ms: [], recharge_energy_kwh: band(), recharge_power_kw: band(),
    available_t_ms: [], available_energy_kwh: [], available_power_kw: band(), available_share_pct: band(),
    shown_t_ms: [], shown_power_kw: band(), counted_t_ms: [], counted_energy_kwh: band(),
  };
}
