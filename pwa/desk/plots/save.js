// @ts-check
/** What was drawn, as a picture: SVG and PNG. A picture travels alone, so its words go with it. */
import { svg } from "../page/dom.js";
import { label } from "./marks.js";

const CAUTION = "These figures hold for these cars, days and courses: nobody should count on a reserve past zero. Only on a closed course, with permission.";
const DENSE = 2; // pixels of a PNG for one of the page
const ASIDE = 16;
const LINE = 16;
const KEY = 40; // of a legend's sign and the gap to the next
const PER_CHARACTER = 0.5; // of the type's size, about

/**
 * @typedef {object} Picture
 * @property {SVGElement} drawn
 * @property {number} width
 * @property {number} height
 * @property {string} title
 * @property {string} note
 * @property {Key[]} legend
 * @property {string} [source] what it was made by; what stands in a report needs no foot
 */
/** @typedef {{ sign: SVGElement, words: string }} Key a sign, drawn in 28 by 16, and what it stands for */

/** @param {Picture} picture @returns {{ text: string, wide: number, high: number }} a whole SVG document in the colours of the day */
function sheetOf({ drawn, width, height, title, note, legend, source }) {
  const wide = width + 2 * ASIDE;
  const notes = wrapped(note, width, 12);
  const keys = inRows(legend, width);
  const foot = source === undefined ? [] : [...wrapped(CAUTION, width, 11.5), ...wrapped(source, width, 11.5)];
  const rows = Math.max(0, ...keys.map(({ row }) => row + 1));
  const belowNotes = 38 + notes.length * LINE;
  const head = belowNotes + rows * 20 + 10;
  const high = head + height + 8 + foot.length * LINE + 6;
  const inner = /** @type {SVGElement} */ (drawn.cloneNode(true));
  for (const [name, value] of [["x", ASIDE], ["y", head], ["width", width], ["height", height]]) inner.setAttribute(String(name), String(value));
  inner.removeAttribute("class");
  inner.removeAttribute("aria-hidden");
  const words = { "font-family": "Palatino, Georgia, serif", fill: "var(--ink)" };
  const sheet = svg("svg", { xmlns: "http://www.w3.org/2000/svg", width: wide, height: high, viewBox: `0 0 ${wide} ${high}` },
    svg("rect", { width: wide, height: high, fill: "var(--ground)" }),
    svg("text", { x: ASIDE, y: 28, "font-size": 20, ...words }, title),
    ...notes.map((text, i) => svg("text", { x: ASIDE, y: 48 + i * LINE, "font-size": 12, "font-style": "italic", ...words, fill: "var(--ink-soft)" }, text)),
    ...keys.flatMap(({ sign, words: text, row, x }) => [
      svg("g", { transform: `translate(${ASIDE + x},${belowNotes + row * 20 + 2})` }, sign.cloneNode(true)),
      label(ASIDE + x + 34, belowNotes + row * 20 + 14, text, { "font-size": 12, "font-family": "Helvetica, Arial, sans-serif" })]),
    inner,
    ...foot.map((text, i) => svg("text", { x: ASIDE, y: head + height + 8 + (i + 0.8) * LINE, "font-size": 11.5, ...words, fill: "var(--ink-soft)" }, text)));
  return { text: `<?xml version="1.0" encoding="UTF-8"?>\n${withDaysColours(new XMLSerializer().serializeToString(sheet))}`, wide, high };
}

/** @param {Picture} picture @returns {string} a whole SVG document in the colours of the day */
export const svgDocument = (picture) => sheetOf(picture).text;

/** @param {string} text @param {number} width @param {number} size of the type @returns {string[]} */
function wrapped(text, width, size) {
  const most = Math.max(20, Math.floor(width / (size * PER_CHARACTER)));
  return text.split(" ").reduce((/** @type {string[]} */ lines, word) => {
    const last = lines.at(-1);
    if (last !== undefined && last.length + 1 + word.length <= most) lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
    return lines;
  }, []);
}

/** @param {Key[]} legend @param {number} width @returns {(Key & { row: number, x: number })[]} */
function inRows(legend, width) {
  let [row, x] = [0, 0];
  return legend.map((key) => {
    const long = KEY + 12 * PER_CHARACTER * key.words.length + 14;
    if (x > 0 && x + long > width) [row, x] = [row + 1, 0];
    const placed = { ...key, row, x };
    x += long;
    return placed;
  });
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
  const { text, wide, high } = sheetOf(picture);
  const address = URL.createObjectURL(new Blob([text], { type: "image/svg+xml" }));
  try {
    const image = new Image();
    image.src = address;
    await image.decode();
    const canvas = document.createElement("canvas");
    canvas.width = wide * DENSE;
    canvas.height = high * DENSE;
    canvas.getContext("2d")?.drawImage(image, 0, 0, canvas.width, canvas.height);
    const blob = await /** @type {Promise<Blob | null>} */ (new Promise((done) => canvas.toBlob(done, "image/png")));
    if (!blob) throw new Error("This browser could not make the picture; save it as SVG.");
    return blob;
  } finally {
    URL.revokeObjectURL(address);
  }
}
