// @ts-check
/** Records and times in words. Pure. */
import { asReported } from "../../shared/rules.js";
import { eventWords, readingName, unitName } from "../../shared/vocabulary.js";
import { isLog } from "./evidence.js";

/** @param {number} t_ms @returns {string} local time of day, 15:04:12 */
export function timeOfDay(t_ms) {
  const date = new Date(t_ms);
  return [date.getHours(), date.getMinutes(), date.getSeconds()]
    .map((part) => String(part).padStart(2, "0"))
    .join(":");
}

/** @param {number} ms @returns {string} 4 s, 2:05 or 1:02:05 */
export function span(ms) {
  const s = Math.max(0, Math.round(ms / 1000));
  if (s < 60) return `${s} s`;
  const rest = String(s % 60).padStart(2, "0");
  const min = Math.floor(s / 60);
  return min < 60 ? `${min}:${rest}` : `${Math.floor(min / 60)}:${String(min % 60).padStart(2, "0")}:${rest}`;
}

/** @param {number} ms @returns {string} 4 s, 2:05 or 1.0 h: for a place that has room for no more */
export const shortSpan = (ms) => (ms < 3.6e6 ? span(ms) : `${(ms / 3.6e6).toFixed(1)}\u00a0h`);

/** @param {number | null} value @param {string} unit @returns {string} never parted by a line's end */
export const figure = (value, unit) => `${value}\u00a0${unitName(unit)}`;

/** @param {Record<string, any>} reading @returns {string} as it was said */
const shownFigure = ({ value, unit, about }) => `${about ? "about\u00a0" : ""}${figure(value, unit)}`;

/** @param {import("../storage/rows").RecordRow} row @returns {string} a record in words */
export function recordName(row) {
  const { doc } = row;
  if (row.type === "reading") return `${readingName(doc.quantity)} ${shownFigure(doc)}`;
  if (isLog(row)) return doc.text;
  return eventWords(asReported(/** @type {import("../../shared/vocabulary.js").Said} */ (doc)));
}

/** @param {{ media_type: string }} kept @returns {string} what lies beside the records, in words */
export const keptName = ({ media_type }) => (media_type.startsWith("audio/") ? "Spoken note" : "Photo");

const MOST_LETTERS = 24;

/** @param {import("../storage/rows").RecordRow} shown a figure of the display @returns {string} a long name gives way to its figure */
export function shortName(shown) {
  const name = recordName(shown);
  return name.length > MOST_LETTERS ? shownFigure(shown.doc) : name;
}

/** @param {import("../storage/rows").Counts} counts @returns {string} what the server doesn't hold yet */
export function unsentWords({ records, drafts, chunks, photos }) {
  const some = (/** @type {number} */ n, /** @type {string} */ one) => (n ? `${n} ${one}${n === 1 ? "" : "s"}` : "");
  return [some(records + drafts, "record"), photos > 1 ? `${photos} photos or spoken notes` : some(photos, "photo or spoken note"), chunks ? "the newest part of the track" : ""]
    .filter(Boolean).join(", ") || "nothing";
}
