// @ts-check
/** The cars of a campaign as a table: sortable by every column, saved as CSV. */
import { convert, formatNumber, unitOf } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { figure } from "../page/figure.js";
import { csv, fileName, saveAs, three } from "../page/files.js";
import { middle } from "./reserve-plot.js";
import { BEFORE_ZERO, day, distanceOf } from "./words.js";

/** @typedef {import("./model.js").Row} Row */
/** @typedef {import("../../shared/units.js").Units} Units */
/**
 * @typedef {object} Column
 * @property {string} key
 * @property {string} head
 * @property {boolean} [words]
 * @property {(units: Units) => string} [unit]
 * @property {(row: Row, units: Units) => string | number | null} by as it is shown: a unit may turn the order round
 * @property {(row: Row, units: Units) => Node | string} cell
 * @property {(row: Row) => (string | number | null | undefined)[]} saved
 * @property {string[]} names of what is saved
 */

/**
 * @param {string} key
 * @param {string} head
 * @param {import("../../shared/units.js").Dimension} dimension
 * @param {(row: Row) => import("./documents").Figure} of
 * @param {string} unit of what is saved
 * @returns {Column}
 */
function figures(key, head, dimension, of, unit) {
  return {
    key, head, unit: (units) => unitOf(dimension, units),
    by: (row, units) => (of(row) ? convert(dimension, middle(of(row)), units) : null),
    cell: (row, units) => figure(dimension, of(row), units, { unit: false }),
    saved: (row) => three(of(row)), names: [`${key}_${unit}`, `${key}_low_${unit}`, `${key}_high_${unit}`],
  };
}

/** @param {string} key @param {string} head @param {(row: Row) => string | number | null} of @param {(row: Row, units: Units) => string} [shown] @param {(units: Units) => string} [unit] @returns {Column} */
function fact(key, head, of, shown, unit) {
  const words = !unit;
  return { key, head, words, unit, by: of, cell: (row, units) => shown?.(row, units) ?? String(of(row) ?? "\u2013"), saved: (row) => [of(row)], names: [key] };
}

/** @type {Column[]} */
const COLUMNS = [
  { ...fact("vehicle", "Car", (row) => row.vehicle), cell: (row) => el("a", { href: `/desk?session=${encodeURIComponent(row.session_id)}` }, row.vehicle) },
  fact("started_at", "Driven", (row) => row.started_at, (row) => day(row.started_at)),
  figures("usable", "Usable energy", "energy", (row) => row.usable_kwh, "kwh"),
  fact("chemistry", "Chemistry", (row) => row.chemistry),
  { ...figures("distance", "Past zero", "distance", distanceOf, "m"), cell: (row, units) => (row.shut_down_before_zero && !distanceOf(row) ? "none" : figure("distance", distanceOf(row), units, { unit: false })) },
  figures("energy", "Energy past zero", "energy", (row) => row.reserve_kwh, "kwh"),
  figures("share", "Of usable", "percent", (row) => row.share_of_usable_pct, "pct"),
  figures("consumption", "Consumption", "consumption", (row) => row.consumption_wh_per_km, "wh_per_km"),
  figures("residual", "Against \u201csome of both\u201d", "energy", (row) => row.residual_kwh, "kwh"),
  fact("ambient_c", "Outside", (row) => row.ambient_c, (row, units) => temperature(row.ambient_c, units), (units) => units.temperature),
  fact("pack_c", "Battery", (row) => row.pack_c, (row, units) => temperature(row.pack_c, units), (units) => units.temperature),
  fact("odometer_km", "Odometer", (row) => row.odometer_km, (row, units) => (row.odometer_km === null ? "\u2013" : formatNumber(convert("distance", row.odometer_km * 1000, units), 0)), (units) => units.distance),
  fact("software", "Software", (row) => row.software),
];

/** @param {number | null} celsius @param {Units} units */
function temperature(celsius, units) {
  return celsius === null ? "\u2013" : formatNumber(convert("temperature", celsius, units), 0);
}

/** @param {import("../plots/focus.js").Focus} focus @param {() => string} whose */
export function createCarTable(focus, whose) {
  /** @type {[Row[], Units] | null} */
  let held = null;
  let sorted = { key: "", down: false };
  /** @type {Map<string, HTMLElement>} */
  const lines = new Map();
  const host = el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "Cars, table" });
  const further = el("p", { class: "hint on-page", hidden: true }, "The table goes on to the right: scroll it sideways. \u2192");
  const said = el("p", { class: "visually-hidden", role: "status" });
  const element = el("div", { class: "car-table" }, further, host, said,
    el("p", { class: "table-foot" }, el("button", { type: "button", class: "quiet small", onclick: save }, "Save the table as CSV"), el("span", { class: "hint" }, "In m, kWh, Wh/km, \u00b0C and km, each with both ends of its 95 % interval.")));

  function rows() {
    const column = COLUMNS.find(({ key }) => key === sorted.key);
    const [given, units] = held ?? [[], null];
    if (!column || !units) return given;
    return [...given].sort((a, b) => {
      const [one, other] = [column.by(a, units), column.by(b, units)];
      if (one === null || other === null) return Number(one === null) - Number(other === null); // what isn't known comes last either way
      const less = typeof one === "string" ? one.localeCompare(String(other), undefined, { numeric: true }) : one - Number(other);
      return sorted.down ? -less : less;
    });
  }

  /** @param {Column} column @param {Units} units */
  function head({ key, head: words, words: ofWords, unit }, units) {
    const way = sorted.key === key ? (sorted.down ? "descending" : "ascending") : null;
    return el("th", { scope: "col", class: ofWords ? "words" : null, "aria-sort": way },
      el("button", { type: "button", class: "sort", "data-sort": key, onclick: () => sort(key, words) }, words,
        el("span", { class: "sort-way", "aria-hidden": "true" }, way === null ? "" : sorted.down ? "\u2193" : "\u2191")),
      unit && el("span", { class: "column-unit" }, unit(units)));
  }

  /** @param {string} key @param {string} words */
  function sort(key, words) {
    sorted = { key, down: sorted.key === key ? !sorted.down : key !== "vehicle" };
    show();
    /** @type {HTMLElement | null} */ (host.querySelector(`[data-sort="${key}"]`))?.focus();
    said.textContent = `Sorted by ${words.toLowerCase()}, ${sorted.down ? "largest" : "smallest"} first`;
  }

  function show() {
    if (!held) return;
    const [, units] = held;
    lines.clear();
    host.replaceChildren(el("table", { class: "figures cars" },
      el("caption", { class: "visually-hidden" }, "Cars with 95 % intervals and conditions; to be sorted by every column"),
      el("thead", {}, el("tr", {}, el("td", {}), ...COLUMNS.map((column) => head(column, units)))),
      el("tbody", { onpointerleave: (/** @type {PointerEvent} */ { pointerType }) => pointerType !== "touch" && focus.set(null), onfocusout: () => focus.set(null) }, ...rows().map((row) => {
        const line = el("tr", { "data-session-id": row.session_id, onpointerenter: () => focus.set(row.session_id), onfocusin: () => focus.set(row.session_id) },
          el("td", { class: "tag" }, row.tag),
          ...COLUMNS.map((column, i) => el(i === 0 ? "th" : "td", i === 0 ? { scope: "row" } : { class: column.words ? "words" : null }, column.cell(row, units),
            i === 0 && row.shut_down_before_zero && el("span", { class: "row-detail" }, `\u25b2 ${BEFORE_ZERO}`))));
        lines.set(row.session_id, line);
        return line;
      }))));
    point();
  }

  function point() {
    for (const [id, line] of lines) line.classList.toggle("is-current", id === focus.at());
  }

  function table() {
    return [["session", "tag", ...COLUMNS.flatMap(({ names }) => names), "shut_down_before_zero", "repeat_of"],
      ...rows().map((row) => [row.session_id, row.tag, ...COLUMNS.flatMap(({ saved }) => saved(row)), String(row.shut_down_before_zero), row.repeat_of])];
  }

  function save() {
    saveAs(`${fileName(whose()) || "cars"}.csv`, csv(table()));
  }

  focus.follow(point);
  new ResizeObserver(() => void (further.hidden = host.scrollWidth <= host.clientWidth)).observe(host);
  return {
    element,
    /** @param {Row[]} next @param {Units} units */
    update(next, units) {
      held = [next, units];
      show();
      further.hidden = host.scrollWidth <= host.clientWidth;
    },
  };
}
