// @ts-check
/** How power and speed at full throttle faded over the energy used past zero. */
import { formatPlain, formatQuantity } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";
import { themeTokens } from "../page/theme.js";
import { bandLayers } from "./layers.js";
import { createStrip } from "./strip.js";
import { ascending, rangeOf } from "./thin.js";

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {import("../../shared/units.js").Units} Units */

/** @param {import("../session/cursor.js").Cursor} cursor */
export function createFade(cursor) {
  /** @type {Model | null} */
  let model = null;
  /** @type {Units | null} */
  let units = null;
  const strip = createStrip({
    label: "Energy past zero, floored", panels: [{ id: "power", height: 130 }], top: 8,
    onSeek: (x, hold) => {
      const limit = nearest(x);
      if (limit && hold) cursor.hold(limit.from_ms);
      mark(x);
    },
  });
  strip.titles[0]?.append("Power when floored (full throttle)", el("span", { class: "strip-unit" }, "kW from the battery; points: the stretches it was measured on; joined points: available, by the display"));
  const tableHost = el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "Figures behind the fade of power" });
  const behind = el("details", { class: "behind", ontoggle: fillTable }, el("summary", {}, "Figures behind the fade"), tableHost);
  const held = el("dl", { class: "pairs" });
  const chart = el("div", {}, strip.element, behind);
  const element = el("div", { class: "fade", hidden: true }, chart, held);

  /** @param {number} x kWh past zero */
  function nearest(x) {
    const known = model?.result.limits.filter((limit) => limit.energy_past_zero_kwh) ?? [];
    const off = (/** @type {(typeof known)[number]} */ limit) => Math.abs((limit.energy_past_zero_kwh?.value ?? 0) - x);
    return [...known].sort((a, b) => off(a) - off(b))[0] ?? null;
  }

  function lines() {
    const { fade_energy_kwh: xs, fade_power_kw: band } = model?.curves ?? {};
    if (!xs || xs.length < 2 || !band) return null;
    const { x, columns: [value, low, high] } = ascending(xs, [band.value, band.low, band.high]);
    return value && low && high ? { x, value, low, high } : null;
  }

  /** What the display said was available, where the energy used by then is known. */
  function available() {
    const { available_energy_kwh: xs, available_power_kw: shown } = model?.curves ?? {};
    return (xs ?? []).flatMap((x, i) => {
      const [y, low, high] = [shown?.value[i], shown?.low[i], shown?.high[i]];
      return typeof x === "number" && typeof y === "number" && typeof low === "number" && typeof high === "number" ? [{ x, y, low, high }] : [];
    });
  }

  /** @param {number} x */
  function mark(x) {
    const fade = lines();
    if (!fade) return;
    const i = fade.x.findIndex((at) => at >= x);
    const power = fade.value[i];
    strip.mark({ x, dots: [power ?? null] }, power === undefined ? "" : `${x.toFixed(2)} kWh past zero, ${power.toFixed(1)} kW`);
  }

  function draw() {
    const shown = available();
    const none = new Float64Array();
    const fade = lines() ?? (shown.length > 1 ? { x: none, value: none, low: none, high: none } : null);
    chart.hidden = fade === null;
    element.hidden = fade === null && !model?.result.held_speed;
    if (!fade || !model || !units) return;
    const tokens = themeTokens();
    const bars = model.result.limits.flatMap(({ energy_past_zero_kwh: at, pack_kw: power }) =>
      (at && power ? [{ x: at.value, y: power.value, low: power.low, high: power.high }] : []));
    const xs = [...fade.x, ...shown.map(({ x }) => x)];
    const [first, last] = [Math.min(...xs), Math.max(...xs)];
    const aside = Math.max(0.005, (last - first) * 0.03); // room for the first and the last bar
    const ends = [...bars, ...shown].flatMap(({ low, high }) => [low, high]);
    void strip.draw({
      axis: { key: `${model.id} fade`, kind: "number", title: "energy past zero, kWh", range: [first - aside, last + aside] },
      layers: [...bandLayers(0, fade.x, fade, tokens["line-power"]), { panel: 0, colour: tokens["line-soc"], kind: "bars", bars: shown, joined: true },
        { panel: 0, colour: tokens["line-power"], kind: "bars", bars }],
      ranges: (from, to) => {
        const [low, high] = rangeOf(fade.x, [fade.low, fade.high], from, to, { floor: 0 });
        return [[Math.min(low, ...ends), Math.max(high, ...ends.map((end) => end * 1.05))]];
      },
      flags: [], spans: [], notes: [],
    });
  }

  function fillTable() {
    const fade = lines();
    const shown = units;
    if (!behind.open || !fade || !shown) return;
    const every = Math.max(1, Math.floor(fade.x.length / 20));
    const at = (/** @type {Float64Array} */ column, /** @type {number} */ i) => column[i] ?? NaN;
    tableHost.replaceChildren(el("table", { class: "figures" },
      el("caption", { class: "visually-hidden" }, "Power when floored over energy past zero, 95 % intervals"),
      el("thead", {}, el("tr", {}, ...["Energy past zero", "Power"].map((head) => el("th", { scope: "col" }, head)))),
      el("tbody", {}, ...[...fade.x.keys()].filter((i) => i % every === 0).map((i) => el("tr", {},
        el("th", { scope: "row" }, formatQuantity("energy", { value: at(fade.x, i), low: at(fade.x, i), high: at(fade.x, i) }, shown)?.text ?? ""),
        el("td", {}, figure("power", { value: at(fade.value, i), low: at(fade.low, i), high: at(fade.high, i) }, shown)))))));
  }

  return {
    element, draw,
    /** @param {Model} nextModel @param {Units} nextUnits */
    update(nextModel, nextUnits) {
      model = nextModel;
      units = nextUnits;
      held.replaceChildren(...heldLines(model.result.held_speed, units).flatMap(([term, value]) => [el("dt", {}, term), el("dd", {}, value)]));
      draw();
      fillTable();
    },
  };
}

/**
 * @param {import("../session/documents").ResultDocument["held_speed"]} asked
 * @param {Units} units
 * @returns {[string, string][]} when the speed that was asked for was last held, and first not
 */
function heldLines(asked, units) {
  if (!asked) return [];
  const speed = formatPlain("speed", asked.speed_mps, units, 0);
  /** @param {import("../session/documents").HeldAt | null} at */
  const place = (at) => {
    if (!at) return "not on record";
    const [way, energy] = [formatQuantity("distance", at.past_zero_m, units), formatQuantity("energy", at.energy_past_zero_kwh, units)];
    return [way?.text, energy?.text].filter(Boolean).join(", ") || "no zero to count from";
  };
  return [[`${speed} last held, past zero`, place(asked.last_held)], [`${speed} first not held, past zero`, place(asked.first_not_held)]];
}
