// @ts-check
/** Our own pictograms, drawn as strokes on a 24 × 24 grid; found faster than words when it shakes. */

const SVG = "http://www.w3.org/2000/svg";
export const PHOTO = "M4 7h4l2-3h4l2 3h4v12H4zM16 13a4 4 0 1 1-8 0 4 4 0 0 1 8 0z";

/** @param {string} strokes path data @returns {SVGElement} decorative: the words beside it say the same */
export function glyph(strokes) {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", "0 0 24 24");
  svg.setAttribute("aria-hidden", "true");
  svg.setAttribute("class", "glyph");
  const path = document.createElementNS(SVG, "path");
  path.setAttribute("d", strokes);
  svg.append(path);
  return svg;
}
