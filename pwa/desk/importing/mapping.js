// @ts-check
/** Which column of a log is what: the guess filled in, every part of it for the user to change. */
import { el } from "../page/dom.js";

/** @typedef {import("./documents").Guess} Guess */
/** @typedef {import("./documents").GuessedColumn} GuessedColumn */

const TIMES = [["iso8601", "date and time, ISO 8601"], ["epoch_s", "seconds since 1970"], ["epoch_ms", "milliseconds since 1970"],
  ["elapsed_s", "seconds since a start"], ["elapsed_ms", "milliseconds since a start"], ["pattern", "a pattern"]];
const DELIMITERS = [[",", "comma"], [";", "semicolon"], ["\t", "tab"]];
const SIGNED = ["current", "power"];
const USES = { time: "Time", clock: "Time of day", voltage: "Voltage", current: "Current", power: "Power", speed: "Speed",
  soc: "Displayed charge", lat: "Latitude", lon: "Longitude", altitude: "Altitude", accuracy: "Accuracy, 95 %" };

/**
 * @param {Guess} guess
 * @param {Record<string, string[]>} units per quantity
 * @param {string} beginning of the file, to compare with
 * @param {() => void} onChange
 * @param {() => void} onRead
 */
export function createMapping(guess, units, beginning, onChange, onRead) {
  const given = guess.mapping;
  const uid = crypto.randomUUID();
  /** @param {string} words @param {(string | undefined)[][]} options @param {string} chosen */
  const choice = (words, options, chosen) => el("select", { "aria-label": words, onchange: onChange },
    ...options.map(([value, name]) => el("option", { value: value ?? "", selected: value === chosen }, name ?? value ?? "")));

  const delimiter = choice("Between columns", DELIMITERS, given.delimiter);
  const decimal = choice("Decimal sign", [[".", "point"], [",", "comma"]], given.decimal);
  const lines = ["header_line", "first_data_line"].map((key) => el("input", {
    type: "number", min: 1, max: 2000, value: given[key], "aria-label": key === "header_line" ? "Line of the header" : "First line of data", oninput: onChange,
  }));
  const time = given.time ?? {};
  const isPattern = typeof time.format === "string" && time.format.includes("%");
  const format = choice("How times are written", TIMES, isPattern ? "pattern" : time.format ?? "iso8601");
  const pattern = el("input", { type: "text", value: isPattern ? time.format : "", placeholder: "%d.%m.%Y %H:%M:%S", "aria-label": "Pattern of times", oninput: onChange });
  const start = el("input", { type: "text", value: time.start ?? "", placeholder: "2026-03-02T10:30:00+01:00", "aria-label": "When the log began", oninput: onChange });
  const showTime = () => {
    pattern.hidden = format.value !== "pattern";
    start.hidden = !format.value.startsWith("elapsed");
  };
  format.addEventListener("change", showTime);
  showTime();

  const rows = [...guess.columns].sort((a, b) => a.number - b.number).map((column) => columnRow(column, given, units, onChange));
  const read = el("button", { type: "button", class: "button-plain", onclick: onRead }, "Read it so");
  const element = el("div", { class: "mapping" },
    guess.open.length > 0 && el("div", { class: "mapping-open" }, el("p", {}, "Still open:"),
      el("ul", {}, ...guess.open.map((open) => el("li", {}, open)))),
    el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "Columns of the file" },
      el("table", { class: "figures mapping-columns" },
        el("caption", { class: "visually-hidden" }, "Which column is what"),
        el("thead", {}, el("tr", {}, ...["Column", "Is", "Unit", "Out of the pack is", "Because"].map((head) => el("th", { scope: "col", class: "words" }, head)))),
        el("tbody", {}, ...rows.map(({ element: row }) => row)))),
    el("div", { class: "import-fields" },
      labelled("Times are", format), pattern, start, labelled("Between columns", delimiter), labelled("Decimal sign", decimal),
      labelled("Header in line", /** @type {HTMLInputElement} */ (lines[0])), labelled("Data from line", /** @type {HTMLInputElement} */ (lines[1]))),
    el("details", { class: "behind" }, el("summary", {}, "The file\u2019s first lines"),
      el("pre", { class: "mapping-lines", id: uid, tabindex: 0 }, beginning.split(/\r?\n/).slice(0, 8).join("\n"))),
    read);

  return {
    element,
    /**
     * @param {string} zone of times that say none; empty when nobody stated one
     * @returns {Record<string, any>} the mapping as the form says it
     */
    read(zone) {
      /** @type {Record<string, any>} */
      const mapping = {
        delimiter: delimiter.value, decimal: decimal.value, encoding: given.encoding,
        header_line: Number(lines[0]?.value), first_data_line: Number(lines[1]?.value), missing: given.missing,
      };
      /** @type {Record<string, any>} */
      const when = { format: format.value === "pattern" ? pattern.value : format.value };
      if (format.value.startsWith("elapsed")) when.start = start.value.trim();
      if (zone && (format.value === "pattern" || format.value === "iso8601")) when.zone = zone;
      for (const row of rows) {
        const { use, column, unit, discharge } = row.read();
        if (use === "time") when.column = column;
        else if (use === "clock") when.clock_column = column;
        else if (use) mapping[use] = { column, unit, ...(SIGNED.includes(use) ? { discharge } : {}) };
      }
      if (when.column !== undefined) mapping.time = when;
      return mapping;
    },
  };
}

/**
 * @param {GuessedColumn} guessed
 * @param {Record<string, any>} given
 * @param {Record<string, string[]>} units
 * @param {() => void} onChange
 */
function columnRow(guessed, given, units, onChange) {
  const guessedUse = guessed.as === "time.clock_column" ? "clock" : guessed.as;
  const use = el("select", { "aria-label": `What ${guessed.column} is`, onchange: show },
    el("option", { value: "" }, "not taken"),
    ...Object.entries(USES).map(([value, name]) => el("option", { value, selected: value === guessedUse }, name)));
  const unit = el("select", { "aria-label": `Unit of ${guessed.column}`, onchange: onChange });
  const sign = el("select", { "aria-label": `Sign of ${guessed.column} out of the pack`, onchange: onChange },
    ...["positive", "negative"].map((value) => el("option", { value, selected: given[guessedUse]?.discharge === value }, value)));
  const unitCell = el("td", { class: "words" }, unit);
  const signCell = el("td", { class: "words" }, sign);

  function fill() {
    const known = units[use.value] ?? [];
    unit.replaceChildren(...known.map((name) => el("option", { value: name, selected: name === given[use.value]?.unit && use.value === guessedUse }, name === "1" ? "share of 1" : name)));
    unit.hidden = known.length === 0;
    sign.hidden = !SIGNED.includes(use.value);
  }
  function show() {
    fill();
    onChange();
  }
  fill();
  const element = el("tr", {},
    el("th", { scope: "row", class: "words" }, guessed.column), el("td", { class: "words" }, use), unitCell, signCell,
    el("td", { class: "words mapping-because" }, el("span", { class: `mapping-${guessed.sure}` }, guessed.sure), ` \u2013 ${guessed.because}`));
  return {
    element,
    read: () => ({
      use: use.value, unit: unit.value, discharge: sign.value,
      // a column whose header is not unique goes by its number
      column: String(guessed.number) === guessed.column ? guessed.number : guessed.column,
    }),
  };
}

/**
 * @param {string} words
 * @param {HTMLElement} control
 */
function labelled(words, control) {
  return el("div", { class: "field" }, el("span", { class: "field-name", "aria-hidden": "true" }, words), control);
}
