// @ts-check
/** What was drawn, as a file: SVG, PNG, CSV. A picture travels alone, so its words go with it. */
import { svg } from "../page/dom.js";

const CAUTION = "These figures hold for these cars, days and courses: nobody should count on a reserve past zero. Only on a closed course, with permission.";
const DENSE = 2; // pixels of a PNG for one of the page
const HEAD = 58;
const FOOT = 40;
const ASIDE = 16;

/**
 * @typedef {object} Picture
 * @property {SVGElement} drawn
 * @property {number} width
 * @property {number} height
 * @property {string} title
 * @property {string} note
 * @property {string} source what it was made by
 */

/** @param {Picture} picture @returns {string} a whole SVG document in the colours of the day */
export function svgDocument({ drawn, width, height, title, note, source }) {
  const [wide, high] = [width + 2 * ASIDE, height + HEAD + FOOT];
  const inner = /** @type {SVGElement} */ (drawn.cloneNode(true));
  for (const [name, value] of [["x", ASIDE], ["y", HEAD], ["width", width], ["height", height]]) inner.setAttribute(String(name), String(value));
  inner.removeAttribute("class");
  inner.removeAttribute("aria-hidden");
  const words = { "font-family": "Palatino, Georgia, serif", fill: "var(--ink)" };
  const sheet = svg("svg", { xmlns: "http://www.w3.org/2000/svg", width: wide, height: high, viewBox: `0 0 ${wide} ${high}` },
    svg("rect", { width: wide, height: high, fill: "var(--ground)" }),
    svg("text", { x: ASIDE, y: 28, "font-size": 20, ...words }, title),
    svg("text", { x: ASIDE, y: 48, "font-size": 12, "font-style": "italic", ...words, fill: "var(--ink-soft)" }, note),
    inner,
    svg("text", { x: ASIDE, y: high - 22, "font-size": 9.5, ...words, fill: "var(--ink-soft)" }, CAUTION),
    svg("text", { x: ASIDE, y: high - 9, "font-size": 9.5, ...words, fill: "var(--ink-soft)" }, source));
  return `<?xml version="1.0" encoding="UTF-8"?>\n${withDaysColours(new XMLSerializer().serializeToString(sheet))}`;
}

/** @param {string} text with colours as variables of the theme @returns {string} with those of the day */
function withDaysColours(text) {
  const root = document.documentElement;
  const theme = root.dataset.theme ?? "day";
  root.dataset.theme = "day"; // put back before anything is painted
  const style = getComputedStyle(root);
  const coloured = text.replace(/var\(--([a-z-]+)\)/g, (whole, name) => style.getPropertyValue(`--${name}`).trim() || whole);
  root.dataset.theme = theme;
  return coloured;
}

/** @param {Picture} picture @returns {Promise<Blob>} */
export async function png(picture) {
  const address = URL.createObjectURL(new Blob([svgDocument(picture)], { type: "image/svg+xml" }));
  try {
    const image = new Image();
    image.src = address;
    await image.decode();
    const canvas = document.createElement("canvas");
    canvas.width = (picture.width + 2 * ASIDE) * DENSE;
    canvas.height = (picture.height + HEAD + FOOT) * DENSE;
    canvas.getContext("2d")?.drawImage(image, 0, 0, canvas.width, canvas.height);
    const blob = await /** @type {Promise<Blob | null>} */ (new Promise((done) => canvas.toBlob(done, "image/png")));
    if (!blob) throw new Error("This browser could not make the picture; save it as SVG.");
    return blob;
  } finally {
    URL.revokeObjectURL(address);
  }
}

/** @param {(string | number | null | undefined)[][]} rows @returns {string} RFC 4180 */
export function csv(rows) {
  return rows.map((row) => `${row.map(cell).join(",")}\r\n`).join("");
}

/** @param {string | number | null | undefined} value */
function cell(value) {
  const text = String(value ?? "");
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
