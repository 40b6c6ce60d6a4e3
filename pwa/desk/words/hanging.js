// @ts-check
/** Which headline figures hang on a gap in the positions, in words to stand beside them. */

/** @typedef {import("../session/documents").ResultDocument} ResultDocument */

/** Where each headline figure stands in the result. */
const PLACES = /** @type {Record<string, string>} */ ({
  distance_m: "reserve.distance_m",
  energy_kwh: "reserve.energy_kwh",
  share_of_usable_pct: "reserve.share_of_usable_pct",
  past_zero_wh_per_km: "consumption.past_zero_wh_per_km",
  total_m: "distance.total_m",
});

/**
 * @param {string} key of a headline figure
 * @param {ResultDocument} result
 * @returns {string | null} null where it hangs on none
 */
export function hangsOn(key, result) {
  const place = PLACES[key];
  for (const { code, where } of result.findings) {
    if (!place || code !== "hangs_on_gap" || !where.split(", ").includes(place)) continue;
    const gap = gapIn(where, result);
    if (gap) return `Hangs on a gap of ${lasting((gap.to_ms - gap.from_ms) / 1000)}`;
  }
  return null;
}

/**
 * @param {string} where of a finding
 * @param {ResultDocument} result
 * @returns {ResultDocument["distance"]["gaps"][number] | undefined} the gap that it names
 */
export function gapIn(where, result) {
  return result.distance.gaps[Number(/distance\.gaps\[(\d+)\]/.exec(where)?.[1] ?? -1)];
}

/**
 * @param {number} seconds
 * @returns {string} seconds up to two minutes, then minutes, then hours and minutes
 */
function lasting(seconds) {
  if (seconds < 120) return `${Math.round(seconds)} s`;
  const minutes = Math.round(seconds / 60);
  const parts = [[Math.floor(minutes / 60), "h"], [minutes % 60, "min"]];
  return parts.filter(([count]) => count).map(([count, unit]) => `${count} ${unit}`).join(" ");
}
