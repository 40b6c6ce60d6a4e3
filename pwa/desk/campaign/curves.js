// @ts-check
/** Lines of a session, as plots of many take them. */

/** @typedef {import("./lines-plot.js").Line} Line */
/** @typedef {import("../session/documents").ResultDocument} ResultDocument */
/** @typedef {import("../session/documents").CurvesDocument} CurvesDocument */

/** Power over energy past zero, where it was floored. @param {string} id @param {string} tag @param {string} name @param {ResultDocument} result @returns {Line} */
export function fadeLine(id, tag, name, { limits }) {
  const spots = limits.flatMap(({ energy_past_zero_kwh: at, pack_kw: power }) => (at && power ? [{ x: at.value, y: power.value, low: power.low, high: power.high }] : []));
  return { id, tag, name, spots: spots.length > 1 ? spots.sort((a, b) => a.x - b.x) : [] };
}

/** Power since plug-in. @param {string} id @param {string} tag @param {string} name @param {CurvesDocument} curves @param {number | null} plugInMs @returns {Line} */
export function rechargeLine(id, tag, name, curves, plugInMs) {
  const from = plugInMs ?? curves.recharge_t_ms[0] ?? 0;
  const spots = curves.recharge_t_ms.flatMap((tMs, i) => {
    const y = curves.recharge_power_kw.value[i];
    return typeof y === "number" ? [{ x: (tMs - from) / 60_000, y }] : [];
  });
  return { id, tag, name, spots };
}

/**
 * A quantity of the drive over the way from zero, or to the end of the reserve.
 * @param {string} id @param {string} tag @param {string} name
 * @param {CurvesDocument} curves
 * @param {(i: number) => number | null | undefined} of
 * @param {number} offM taken off the way past zero
 * @param {number} scale of the way, from m
 * @returns {Line}
 */
export function wayLine(id, tag, name, curves, of, offM, scale) {
  const spots = curves.past_zero_m.value.flatMap((past, i) => {
    const y = of(i);
    return typeof past === "number" && typeof y === "number" ? [{ x: (past - offM) * scale, y }] : [];
  });
  return { id, tag, name, spots };
}
