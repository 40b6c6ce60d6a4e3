// @ts-check
/**
 * Events as flags above the panels: a line each on the canvas, and buttons for those whose words
 * find room, the grave ones first. The buttons stay the same elements while the view moves. They
 * are for a pointer: by keyboard Page Up and Down go from event to event, and Enter opens one.
 */
import { el } from "../page/dom.js";

/**
 * @typedef {object} Flag
 * @property {string} id of the event
 * @property {number} x axis units
 * @property {string} label few words; empty for a line alone
 * @property {string} words all of it, for a screen reader and the tip
 * @property {"plain" | "strong" | "alarm"} tone
 */

const ROW = 15;
const TONES = /** @type {const} */ (["alarm", "strong", "plain"]);
const DASHES = { alarm: [5, 2], strong: [], plain: [1, 3] };

/**
 * @param {number} top pixels kept above the first panel
 * @param {(id: string) => void} onFlag
 */
export function createFlags(top, onFlag) {
  const element = el("div", { class: "strip-flags" });
  /** @type {Map<string, HTMLButtonElement>} */
  const buttons = new Map();
  /** @type {{ id: string, pixel: number }[]} where flags stand now */
  let standing = [];
  const rows = Math.floor((top - 4) / ROW);

  return {
    element,
    /**
     * @param {number} pixel
     * @returns {string | null} the flag under a pointer in the rail, within 6 pixels
     */
    near(pixel) {
      const best = standing.reduce((/** @type {{ id: string, pixel: number } | null} */ near, flag) =>
        (Math.abs(flag.pixel - pixel) < Math.abs((near?.pixel ?? Infinity) - pixel) ? flag : near), null);
      return best && Math.abs(best.pixel - pixel) <= 6 ? best.id : null;
    },
    /**
     * @param {CanvasRenderingContext2D} ink
     * @param {Flag[]} flags in view
     * @param {(x: number) => number} toPixel
     * @param {{ width: number, bottom: number, colours: Record<Flag["tone"], string> }} page
     */
    draw(ink, flags, toPixel, { width, bottom, colours }) {
      standing = flags.map(({ id, x }) => ({ id, pixel: toPixel(x) }));
      /** @type {[number, number][][]} */
      const taken = Array.from({ length: rows }, () => []);
      const used = new Set();
      for (const wanted of TONES) {
        ink.strokeStyle = colours[wanted];
        ink.lineWidth = 1;
        ink.globalAlpha = wanted === "plain" ? 0.55 : 0.9;
        ink.setLineDash(DASHES[wanted]);
        ink.beginPath();
        for (const flag of flags) {
          if (flag.tone !== wanted) continue;
          const pixel = Math.round(toPixel(flag.x)) + 0.5;
          const size = flag.label.length * 6.4 + 12;
          const flip = pixel + size > width;
          const [from, to] = flip ? [pixel - size, pixel] : [pixel, pixel + size];
          const row = flag.label ? taken.findIndex((spans) => spans.every(([a, b]) => to <= a || from >= b)) : -1;
          ink.moveTo(pixel, row < 0 ? top - 8 : top - 16 - row * ROW);
          ink.lineTo(pixel, bottom);
          if (row < 0) continue;
          taken[row]?.push([from, to]);
          used.add(flag.id);
          place(flag, flip ? `translate(${pixel}px, ${top - 19 - row * ROW}px) translateX(-100%)` : `translate(${pixel}px, ${top - 19 - row * ROW}px)`);
        }
        ink.stroke();
      }
      ink.setLineDash([]);
      ink.globalAlpha = 1;
      for (const [id, button] of buttons) {
        if (used.has(id)) continue;
        button.remove();
        buttons.delete(id);
      }
    },
  };

  /** @param {Flag} flag @param {string} transform */
  function place(flag, transform) {
    let button = buttons.get(flag.id);
    if (!button) {
      button = el("button", { type: "button", tabindex: -1, onclick: () => onFlag(flag.id) });
      buttons.set(flag.id, button);
      element.append(button);
    }
    if (button.title !== flag.words || button.textContent !== flag.label) {
      button.className = `strip-flag strip-flag-${flag.tone}`;
      button.textContent = flag.label;
      button.title = flag.words;
      button.setAttribute("aria-label", flag.words);
    }
    button.style.transform = transform;
  }
}
