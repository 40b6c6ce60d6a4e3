// @ts-check
/** Two sessions on one page: figures, conditions, ladders and curves on one axis. */
import { request } from "../shared/api.js";
import { convert, formatNumber, formatPlain, unitOf } from "../shared/units.js";
import { fadeLine, rechargeLine, wayLine } from "./campaign/curves.js";
import { createLadderPlot } from "./campaign/ladder-plot.js";
import { createLinesPlot } from "./campaign/lines-plot.js";
import { el } from "./page/dom.js";
import { saveFrom } from "./page/save-file.js";
import { differing, pairFigures, summary } from "./pair/figures.js";
import { createFocus } from "./plots/focus.js";

/** @typedef {import("../shared/units.js").Units} Units */
/** @typedef {import("./session/documents").ResultDocument} ResultDocument */
/** @typedef {import("./session/documents").CurvesDocument} CurvesDocument */
/** @typedef {{ id: string, name: string, car: string, day: string, result: ResultDocument, curves: CurvesDocument | null }} Side */

const MAX_POINTS = 600;

/**
 * @param {string | null} one
 * @param {string | null} other
 * @param {Units} firstUnits
 * @param {(title: string) => void} onTitle
 */
export function createPairPage(one, other, firstUnits, onTitle) {
  let units = firstUnits;
  /** @type {{ pair: import("./campaign/documents").Pair, sides: [Side, Side] } | null} */
  let held = null;
  const focus = createFocus();
  const whose = () => (held ? carsOf(held.sides) : "");
  const ladders = createLadderPlot(focus, whose, "Ladders of both");
  const energy = createLinesPlot({ name: "energy", title: "Energy over the way", note: "", focus, whose, height: 260 });
  const speed = createLinesPlot({ name: "speed", title: "Speed over the way", note: "", focus, whose, height: 260 });
  const fade = createLinesPlot({ name: "fade", title: "Power when floored, over energy past zero", note: "Floored is full throttle; bars are 95 % intervals.", focus, whose, height: 260 });
  const recharge = createLinesPlot({ name: "recharge", title: "Power on the charger", note: "From plug-in on.", focus, whose, height: 260 });
  onTitle("Two sessions");

  const [first, second] = [picker("pair-one", "First session", one), picker("pair-other", "Second session", other)];
  const axis = el("div", { class: "segments", role: "group", "aria-label": "Curves counted" }, ...[["from zero", "zero", true], ["to the shut-off", "end", false]].map(([words, value, chosen]) =>
    el("label", {}, el("input", { type: "radio", name: "curves-at", value: String(value), checked: Boolean(chosen), onchange: showCurves }), el("span", {}, String(words)))));
  const inShort = el("p", { class: "statement" });
  const figures = el("div");
  const conditions = el("div");
  const status = el("p", { class: "form-status", role: "status" });
  const picture = el("button", { type: "button", class: "quiet", onclick: () => void savePicture() }, "Picture for the film (1920\u00d71080)");
  /** @param {string} anchor @param {string} title @param {...Node} children */
  const section = (anchor, title, ...children) => el("section", { id: anchor, "aria-labelledby": `${anchor}-title` }, el("h2", { id: `${anchor}-title` }, title), ...children);
  const content = el("div", { class: "pair-content", hidden: true },
    inShort, section("figures", "Figures side by side", figures),
    section("conditions", "What was not the same", conditions),
    section("ladders", "Ladders", ladders.element),
    section("curves", "Curves on one axis", el("div", { class: "plot-controls" }, axis), el("div", { class: "plot-pair" }, energy.element, speed.element, fade.element, recharge.element)));
  const hint = el("p", { class: "empty", hidden: true }, "Choose two sessions to see their figures side by side, whether they agree within their doubt, and what was not the same. Two picked in the list of sessions lead here as well.");
  const trouble = el("div", { class: "trouble", role: "alert", hidden: true });
  const element = el("div", { class: "campaign pair", "aria-busy": "true" },
    el("header", { class: "session-head" }, el("div", {}, el("h1", {}, "Two sessions, side by side")), el("div", { class: "downloads" }, picture)),
    el("form", {
      class: "find", onsubmit: (/** @type {Event} */ event) => {
        event.preventDefault();
        go();
      },
    }, first.element, second.element, el("button", { type: "submit", class: "primary" }, "Compare"), status),
    hint, trouble, content);

  /** @param {string} id @param {string} words @param {string | null} chosen */
  function picker(id, words, chosen) {
    const select = el("select", { id, "data-chosen": chosen });
    return { select, element: el("div", { class: "field" }, el("label", { for: id }, words), select) };
  }

  function go() {
    const [a, b] = [first.select.value, second.select.value];
    if (!a || !b || a === b) {
      status.textContent = a && a === b ? "Choose two different sessions." : "Choose two sessions.";
      return;
    }
    window.location.assign(`/desk?compare=${a}&with=${b}`);
  }

  async function offer() {
    const { sessions } = await request("/sessions?limit=500", { timeoutMs: 120_000 });
    for (const { select } of [first, second]) {
      const chosen = select.dataset.chosen ?? "";
      select.replaceChildren(el("option", { value: "" }, "choose\u2026"),
        ...sessions.map((/** @type {import("./session/documents").SessionRow} */ row) => el("option", { value: row.id, selected: row.id === chosen },
          [row.vehicle_label && row.title?.startsWith(row.vehicle_label) ? null : row.vehicle_label, row.title, row.started_at?.slice(0, 10)].filter(Boolean).join(", ") || row.id)));
      if (chosen && select.value !== chosen) select.append(el("option", { value: chosen, selected: true }, held?.sides.find(({ id }) => id === chosen)?.name ?? chosen));
    }
  }

  /** @param {string} id @returns {Promise<Side>} */
  async function side(id) {
    const [result, session] = await Promise.all([request(`/sessions/${id}/result`, { timeoutMs: 120_000 }), request(`/sessions/${id}`)]);
    const { vehicle, session: told } = session.setup;
    const [car, title] = [vehicle?.label ?? "", told?.title ?? ""];
    return { id, name: car && title && !title.startsWith(car) ? `${car}, ${title}` : title || car || "Session without a name", car: car || title, day: told?.started_at?.slice(0, 10) ?? "", result, curves: null };
  }

  /** @returns {[string, string]} */
  const names = () => (held ? [held.sides[0].name, held.sides[1].name] : ["", ""]);

  function show() {
    if (!held) return;
    const { pair, sides } = held;
    /** @type {[boolean, boolean]} */
    const early = [sides[0].result.reserve.shut_down_before_zero, sides[1].result.reserve.shut_down_before_zero];
    figures.replaceChildren(...pairFigures(pair, names(), units, { whose: whose(), early }));
    inShort.textContent = summary(pair, names(), units, early);
    conditions.replaceChildren(...differing(pair, names(), units));
    ladders.update(sides.map(({ id, name, result }) => ({ session_id: id, name, result })), pair.engine, units);
    fade.update({
      lines: sides.map(({ id, name, result }, i) => fadeLine(id, String(i + 1), name, result)), source: pair.engine, dots: true,
      x: "energy past zero, kWh", y: "power from the pack, kW", columns: ["energy_past_zero_kwh", "power_kw"],
      words: (line, { x, y }) => `${line.name}: ${formatPlain("power", y, units)} at ${formatPlain("energy", x, units)} past zero`,
      empty: "Neither was driven floored (full throttle) twice past zero.",
    });
    showCurves();
  }

  function showCurves() {
    if (!held) return;
    const { pair, sides } = held;
    const atEnd = axis.querySelector("input:checked")?.getAttribute("value") === "end";
    const unit = unitOf("distance", units);
    const scale = convert("distance", 1, units);
    /** @param {(curves: CurvesDocument) => (i: number) => number | null | undefined} of */
    const lines = (of) => sides.flatMap(({ id, name, result, curves }, i) => {
      const off = atEnd ? result.reserve.distance_m?.value : 0;
      return curves && off !== undefined ? [wayLine(id, String(i + 1), name, curves, of(curves), off, scale)] : [];
    });
    const waiting = sides.every(({ curves }) => curves === null) ? "Fetching the curves\u2026" : "Neither session has a zero to count from.";
    const x = atEnd ? `to the end of the drive, ${unit}` : `past zero, ${unit}`;
    energy.say(atEnd ? "Energy past zero against the way that was left." : "Energy past zero against the way past zero.");
    speed.say("By position, as driven.");
    energy.update({
      lines: lines((curves) => (i) => curves.energy_past_zero_kwh.value[i]), source: pair.engine, x, y: "energy past zero, kWh", columns: [`way_${unit}`, "energy_past_zero_kwh"], empty: waiting,
      words: (line, spot) => `${line.name}: ${formatPlain("energy", spot.y, units)} at ${formatNumber(spot.x, 2)} ${unit}`,
    });
    speed.update({
      lines: lines((curves) => (i) => {
        const v = curves.speed_mps.value[i];
        return typeof v === "number" ? convert("speed", v, units) : null;
      }), source: pair.engine, x, y: `speed, ${unitOf("speed", units)}`, columns: [`way_${unit}`, "speed"], empty: waiting,
      words: (line, spot) => `${line.name}: ${formatNumber(spot.y, 0)} ${unitOf("speed", units)} at ${formatNumber(spot.x, 2)} ${unit}`,
    });
    recharge.update({
      lines: sides.flatMap(({ id, name, result, curves }, i) => (curves && result.recharge ? [rechargeLine(id, String(i + 1), name, curves, result.recharge.plug_in_ms)] : [])), source: pair.engine,
      x: "minutes since plug-in", y: "power, kW", columns: ["minutes", "power_kw"], empty: sides.every(({ curves }) => curves === null) ? "Fetching the curves\u2026" : "Neither session has a recharge on record.",
      words: (line, spot) => `${line.name}: ${formatPlain("power", spot.y, units)} after ${formatNumber(spot.x, 1)} min`,
    });
  }

  async function savePicture() {
    if (!one || !other) return;
    const query = new URLSearchParams({ units: units.distance, consumption: units.consumption, temperature: units.temperature });
    status.textContent = "Drawing the picture\u2026";
    try {
      await saveFrom(`/api/sessions/${one}/against/${other}/picture?${query}`);
      status.textContent = "Saved.";
    } catch (error) {
      status.textContent = `Not saved: ${error instanceof Error ? error.message : error}`;
    }
  }

  async function load() {
    picture.hidden = !one || !other;
    void offer().catch(() => undefined);
    if (!one || !other) {
      hint.hidden = false;
      element.setAttribute("aria-busy", "false");
      return;
    }
    try {
      const sides = /** @type {[Side, Side]} */ ([await side(one), await side(other)]); // one after the other: each may have to be worked out
      held = { pair: await request(`/sessions/${one}/against/${other}`), sides };
      onTitle(`${sides[0].name} and ${sides[1].name}`);
      content.hidden = false;
      show();
      for (const each of sides) {
        each.curves = await request(`/sessions/${each.id}/curves?max_points=${MAX_POINTS}`, { timeoutMs: 120_000 }).catch(() => null);
        showCurves();
      }
    } catch (error) {
      trouble.hidden = false;
      trouble.replaceChildren(el("h2", {}, "These two can\u2019t be compared"), el("p", {}, String(error instanceof Error ? error.message : error)));
    }
    element.setAttribute("aria-busy", "false");
  }

  void load();
  return {
    element,
    /** @param {Units} next */
    setUnits(next) {
      units = next;
      show();
    },
  };
}

/** @param {Side[]} sides @returns {string} the cars, and the days where it is the same car again */
function carsOf(sides) {
  const same = sides.every(({ car }) => car === sides[0]?.car);
  return sides.map(({ car, day }, i) => (!same ? car : i === 0 ? `${car} ${day}` : day)).join(" ");
}
