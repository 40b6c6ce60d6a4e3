// @ts-check
/** What a panel can hold, and how each is put on the canvas with D3's shapes. */
import { thinLine, thinRibbon } from "./thin.js";

/** @typedef {import("./thin.js").Curve} Curve */
/** @typedef {import("./thin.js").Ribbon} Ribbon */
/** @typedef {{ x: number, y: number, low: number, high: number }} Bar  a figure shown, and all it can have meant */
/**
 * @typedef {{ panel: number, colour: string } & (
 *   { kind: "line", curve: Curve, dashed?: boolean }
 *   | { kind: "ribbon", ribbon: Ribbon }
 *   | { kind: "steps", curve: Curve, until: number }
 *   | { kind: "bars", bars: Bar[], joined?: boolean })} Layer
 */
/**
 * @typedef {object} Place where a panel lies
 * @property {D3Scale} x
 * @property {D3Scale} y
 * @property {[number, number]} view axis units
 * @property {number} columns pixels across
 * @property {string} ground colour behind it
 */

/**
 * @param {D3} d3
 * @param {CanvasRenderingContext2D} ink
 * @param {Layer} layer
 * @param {Place} place
 */
export function drawLayer(d3, ink, layer, { x, y, view, columns, ground }) {
  ink.strokeStyle = ink.fillStyle = layer.colour;
  ink.lineWidth = 1.5;
  ink.lineJoin = "bevel"; // a round join of each of some thousand corners is what costs most
  ink.beginPath();
  switch (layer.kind) {
    case "ribbon": {
      const seen = thinRibbon(layer.ribbon, view[0], view[1], columns);
      d3.area().context(ink).defined((_, i) => !Number.isNaN((seen.low[i] ?? NaN) + (seen.high[i] ?? NaN)))
        .x(x).y0((_, i) => y(seen.low[i] ?? NaN)).y1((_, i) => y(seen.high[i] ?? NaN))(seen.x);
      ink.globalAlpha = 0.2;
      ink.fill();
      ink.globalAlpha = 1;
      return;
    }
    case "line":
    case "steps": {
      const seen = thinLine(layer.curve, view[0], view[1], columns);
      const shape = d3.line().context(ink).defined((_, i) => !Number.isNaN(seen.y[i] ?? NaN))
        .x(x).y((_, i) => y(seen.y[i] ?? NaN));
      if (layer.kind === "steps") shape.curve(d3.curveStepAfter);
      if (layer.kind === "line" && layer.dashed) ink.setLineDash([5, 3]);
      shape(seen.x);
      ink.stroke();
      ink.setLineDash([]);
      if (layer.kind === "steps") {
        seen.x.forEach((at, i) => dot(ink, x(at), y(seen.y[i] ?? NaN), 2.5, layer.colour));
        // nothing later was noted: as far as anybody knows it stayed
        const [last, value] = [layer.curve.x.at(-1), layer.curve.y.at(-1)];
        if (last === undefined || value === undefined || last >= layer.until) return;
        ink.setLineDash([2, 4]);
        ink.beginPath();
        ink.moveTo(x(last), y(value));
        ink.lineTo(x(layer.until), y(value));
        ink.strokeStyle = layer.colour;
        ink.stroke();
        ink.setLineDash([]);
      }
      return;
    }
    default: {
      const seen = layer.bars.filter((bar) => bar.x >= view[0] && bar.x <= view[1]);
      ink.lineWidth = 1.3;
      for (const bar of seen) {
        const at = Math.round(x(bar.x)) + 0.5;
        const [top, bottom] = [y(bar.high), y(bar.low)];
        if (bottom - top < 7) continue; // the point covers it
        ink.moveTo(at, top);
        ink.lineTo(at, bottom);
        for (const end of [top, bottom]) {
          ink.moveTo(at - 3, end);
          ink.lineTo(at + 3, end);
        }
      }
      ink.stroke();
      if (layer.joined) {
        ink.beginPath();
        d3.line().context(ink).x((bar) => x(bar.x)).y((bar) => y(bar.y))(seen);
        ink.globalAlpha = 0.45;
        ink.stroke();
        ink.globalAlpha = 1;
      }
      for (const bar of seen) dot(ink, x(bar.x), y(bar.y), 3, ground, layer.colour);
    }
  }
}

/**
 * @param {CanvasRenderingContext2D} ink
 * @param {number} x
 * @param {number} y
 * @param {number} radius
 * @param {string} fill
 * @param {string} [edge]
 */
function dot(ink, x, y, radius, fill, edge) {
  ink.beginPath();
  ink.arc(x, y, radius, 0, 2 * Math.PI);
  ink.fillStyle = fill;
  ink.fill();
  if (!edge) return;
  ink.strokeStyle = edge;
  ink.stroke();
}

/**
 * A line with its 95 % band.
 * @param {number} panel
 * @param {Float64Array} x
 * @param {{ value: Float64Array, low: Float64Array, high: Float64Array }} band in the unit shown
 * @param {string} colour
 * @param {{ dashed?: boolean }} [options]
 * @returns {Layer[]}
 */
export function bandLayers(panel, x, { value, low, high }, colour, { dashed = false } = {}) {
  return [
    { panel, colour, kind: "ribbon", ribbon: { x, low, high } },
    { panel, colour, kind: "line", curve: { x, y: value }, dashed },
  ];
}
