// @ts-check
/** The recharge: power and energy since plug-in, the trickle, and what each displayed % took. */
import { formatNumber, formatPlain, formatQuantity } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";
import { themeTokens } from "../page/theme.js";
import { quantityAt, quantityOf } from "../session/curves.js";
import { voltageLines } from "../words/pack-voltage.js";
import { bandLayers } from "./layers.js";
import { createStrip } from "./strip.js";
import { floats, rangeOf } from "./thin.js";

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {import("../../shared/units.js").Units} Units */

/**
 * @param {import("../session/cursor.js").Cursor} cursor
 */
export function createRecharge(cursor) {
  /** @type {Model | null} */
  let model = null;
  /** @type {Units | null} */
  let units = null;
  let plugInMs = 0;
  const strip = createStrip({
    label: "Moment of the recharge", panels: [{ id: "power", height: 120 }, { id: "charged", height: 140 }], top: 8,
    onSeek: (x, hold) => (hold ? cursor.hold : cursor.hover)(Math.round(plugInMs + x * 60_000)),
    onRelease: cursor.release,
  });
  strip.titles[0]?.append("Power", el("span", { class: "strip-unit" }, "kW"));
  strip.titles[1]?.append("Energy since plug-in", el("span", { class: "strip-unit" }, "kWh"));
  const facts = el("dl", { class: "pairs" });
  const steps = el("div");
  const tableHost = el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "Figures behind the recharge chart" });
  const behind = el("details", { class: "behind", ontoggle: fillTable }, el("summary", {}, "Figures behind the chart"), tableHost);
  const content = el("div", { class: "recharge" }, el("div", { class: "recharge-chart" }, strip.element, behind),
    el("div", { class: "recharge-facts" }, facts, steps));
  const empty = el("p", { class: "empty" }, "No recharge on record: no plug-in was tapped and no charging readings were typed.");
  const element = el("div", {}, content, empty);

  function draw() {
    if (!model || !units) return;
    const { curves, result } = model;
    const x = Float64Array.from(curves.recharge_t_ms, (tMs) => (tMs - plugInMs) / 60_000);
    const tokens = themeTokens();
    const bars = (/** @type {number[]} */ tMs, /** @type {import("../session/documents").Band} */ shown) => tMs.map((at, i) => (
      { x: (at - plugInMs) / 60_000, y: shown.value[i] ?? NaN, low: shown.low[i] ?? NaN, high: shown.high[i] ?? NaN }));
    const [power, energy] = [curves.recharge_power_kw, curves.recharge_energy_kwh]
      .map(({ value, low, high }) => ({ value: floats(value), low: floats(low), high: floats(high) }));
    if (!power || !energy) return;
    void strip.draw({
      axis: { key: `${model.id} recharge`, kind: "number", title: "minutes since plug-in", range: [0, Math.max(1, x.at(-1) ?? 1)] },
      layers: [
        ...bandLayers(0, x, power, tokens["line-power"]), { panel: 0, colour: tokens["line-power"], kind: "bars", bars: bars(curves.shown_t_ms, curves.shown_power_kw) },
        ...bandLayers(1, x, energy, tokens["line-energy"]), { panel: 1, colour: tokens["line-energy"], kind: "bars", bars: bars(curves.counted_t_ms, curves.counted_energy_kwh) },
      ],
      ranges: (from, to) => [power, energy].map(({ value, low, high }) => rangeOf(x, [low, high, value], from, to, { floor: 0 })),
      flags: [],
      notes: [],
      spans: trickleSpans(result, plugInMs),
    });
    follow();
  }

  function follow() {
    const tMs = cursor.at();
    if (!model || !units || tMs === null) return;
    const { curves } = model;
    const first = curves.recharge_t_ms[0];
    const last = curves.recharge_t_ms.at(-1);
    if (first === undefined || last === undefined || tMs < first || tMs > last) {
      strip.mark({ x: null, dots: [] }, "");
      return;
    }
    const power = quantityAt(curves.recharge_t_ms, curves.recharge_power_kw, tMs);
    const energy = quantityAt(curves.recharge_t_ms, curves.recharge_energy_kwh, tMs);
    strip.mark({
      x: (tMs - plugInMs) / 60_000,
      dots: [power?.value ?? null, energy?.value ?? null],
    }, [model.clock.time(tMs), ...[formatQuantity("power", power, units), formatQuantity("energy", energy, units)].flatMap((told) => (told ? [`${told.value}\u00a0${told.unit}`] : []))].join(", "));
  }

  function fillTable() {
    if (!behind.open || !model || !units) return;
    const { curves, clock } = model;
    const shown = units;
    const last = curves.recharge_t_ms.length - 1;
    const indices = [...new Set(Array.from({ length: 25 }, (_, k) => Math.round((last * k) / 24)))].filter((i) => i >= 0);
    tableHost.replaceChildren(el("table", { class: "figures" },
      el("caption", { class: "visually-hidden" }, "Recharge curve with 95 % intervals"),
      el("thead", {}, el("tr", {}, ...["Clock", "Power", "Energy since plug-in"].map((head) => el("th", { scope: "col" }, head)))),
      el("tbody", {}, ...indices.map((i) => el("tr", {},
        el("th", { scope: "row" }, clock.time(curves.recharge_t_ms[i] ?? 0)),
        el("td", {}, figure("power", quantityOf(curves.recharge_power_kw, i), shown)),
        el("td", {}, figure("energy", quantityOf(curves.recharge_energy_kwh, i), shown)))))));
  }

  cursor.follow(follow);
  return {
    element,
    draw,
    /**
     * @param {Model} nextModel
     * @param {Units} nextUnits
     */
    update(nextModel, nextUnits) {
      model = nextModel;
      units = nextUnits;
      const { recharge } = nextModel.result;
      content.hidden = !recharge;
      empty.hidden = Boolean(recharge);
      if (!recharge) return;
      plugInMs = recharge.plug_in_ms ?? nextModel.curves.recharge_t_ms[0] ?? 0;
      const hasCurve = nextModel.curves.recharge_t_ms.length > 1;
      strip.element.hidden = !hasCurve;
      behind.hidden = !hasCurve;
      /** @type {[string, Node | string][]} */
      const lines = [
        ["Plugged in", recharge.plug_in_ms === null ? "\u2013" : nextModel.clock.time(recharge.plug_in_ms)],
        ["Slow charging (trickle) lasted", recharge.trickle_s ? figure("duration", recharge.trickle_s, nextUnits) : lastedWords(recharge.trickle_end_s, nextUnits)],
        ["Power meanwhile", figure("power", recharge.trickle_kw, nextUnits)],
        ["Energy meanwhile", figure("energy", recharge.trickle_kwh, nextUnits)],
        ["Full power", figure("power", recharge.full_power_kw, nextUnits)],
        ["Highest power shown", recharge.highest_kw ? `${formatPlain("power", recharge.highest_kw.value, nextUnits)}: at least that` : "\u2013"],
        ["Energy in", figure("energy", recharge.energy_in_kwh, nextUnits)],
        ["Below zero, times the charging efficiency", figure("energy", recharge.below_zero_kwh, nextUnits)],
        ...voltageLines(nextModel.result.pack_voltage),
      ];
      facts.replaceChildren(...lines.flatMap(([term, value]) => [el("dt", {}, term), el("dd", {}, value)]));
      steps.replaceChildren(recharge.energy_to_soc.length === 0
        ? el("p", { class: "empty" }, "No displayed charge was noted while charging.")
        : el("table", { class: "figures" },
          el("caption", {}, "Energy in when the display first showed"),
          el("tbody", {}, ...recharge.energy_to_soc.map(({ soc_pct: soc, energy_kwh: energy }) => el("tr", {},
            el("th", { scope: "row" }, `${formatNumber(soc, soc % 1 ? 1 : 0)}\u00a0%`),
            el("td", {}, figure("energy", energy, nextUnits)))))));
      draw();
      fillTable();
    },
  };
}

/**
 * The trickle on the axis, as long as it surely lasted and as long as it can have.
 * @param {import("../session/documents").ResultDocument} result
 * @param {number} plugInMs
 * @returns {{ from: number, to: number, label: string }[]} minutes since plug-in
 */
function trickleSpans({ recharge, timeline }, plugInMs) {
  const end = recharge?.trickle_end_s;
  if (!end) return [];
  const startMs = timeline.find(({ kind }) => kind === "charge_start")?.at_ms.value ?? plugInMs;
  const from = (startMs - plugInMs) / 60_000;
  const sure = from + (end.low ?? 0) / 60;
  return [
    { from, to: sure, label: "trickle" },
    ...(end.high === null ? [] : [{ from: sure, to: from + end.high / 60, label: "ended here" }]),
  ];
}

/**
 * @param {import("../session/documents").Bounds | null} end
 * @param {Units} units
 * @returns {string} how long it lasted where only one end of that is known
 */
function lastedWords(end, units) {
  if (end && end.low !== null) return `over ${formatPlain("duration", end.low, units)} min:s`;
  if (end && end.high !== null) return `under ${formatPlain("duration", end.high, units)} min:s`;
  return "\u2013";
}
