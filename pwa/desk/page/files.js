// @ts-check
/** Files that a page makes itself: tables as CSV, what they are called, and handing them over. */

const DIGITS = 7;

/** @param {(string | number | null | undefined)[][]} rows @returns {string} RFC 4180 */
export function csv(rows) {
  return rows.map((row) => `${row.map(cell).join(",")}\r\n`).join("");
}

/**
 * A figure and the ends of its interval with two digits of its doubt, as they are saved.
 * @param {{ value: number | null, low: number | null, high: number | null } | null | undefined} told
 * @returns {(number | null)[]}
 */
export function three(told) {
  if (!told) return [null, null, null];
  const ends = [told.value, told.low, told.high];
  const half = told.low === null || told.high === null ? NaN : (told.high - told.low) / 2;
  if (!(half > 0)) return ends;
  const decimals = Math.min(12, Math.max(0, 1 - Math.floor(Math.log10(half))));
  return ends.map((end) => (end === null ? null : Number(end.toFixed(decimals))));
}

/** What files are called. @param {...string} parts @returns {string} such as "winter-cars-ladders" */
export function fileName(...parts) {
  return parts.map((part) => part.trim().toLowerCase().replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-|-$/g, "").slice(0, 60)).filter(Boolean).join("-");
}

/** @param {string | number | null | undefined} value a number has the digits that a figure without a doubt is worth */
function cell(value) {
  const text = String(typeof value === "number" && !Number.isInteger(value) ? Number(value.toPrecision(DIGITS)) : value ?? "");
  const safe = typeof value === "string" && /^[=+@\t-]/.test(text) ? `'${text}` : text; // a table program would run it
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}

/** @param {string} name of the file @param {Blob | string} content @param {string} [type] */
export function saveAs(name, content, type = "text/csv;charset=utf-8") {
  const address = URL.createObjectURL(typeof content === "string" ? new Blob([content], { type }) : content);
  const link = document.createElement("a");
  link.href = address;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
}
