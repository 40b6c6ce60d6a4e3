// @ts-check
/** Which part of a long list is on the page. */
import { formatNumber } from "../../shared/units.js";
import { el } from "../page/dom.js";

export const LINES = 50;

/**
 * @param {() => void} onTurn
 */
export function createPager(onTurn) {
  let offset = Math.max(0, Number.parseInt(new URLSearchParams(window.location.search).get("offset") ?? "0", 10) || 0);
  let total = 0;
  const place = el("p", { role: "status" });
  const back = el("button", { type: "button", class: "quiet", onclick: () => turn(-LINES) }, "Earlier in the list");
  const next = el("button", { type: "button", class: "quiet", onclick: () => turn(LINES) }, "Further down");
  const element = el("nav", { class: "pager", "aria-label": "Parts of the list", hidden: true }, back, place, next);

  /** @param {number} by */
  function turn(by) {
    offset = Math.max(0, offset + by);
    onTurn();
  }

  return {
    element,
    offset: () => offset,
    first() {
      offset = 0;
    },
    /** @param {number} shown @param {number} found whether there is something at this offset */
    show(shown, found) {
      total = found;
      if (shown === 0 && total > 0 && offset > 0) {
        offset = Math.floor((total - 1) / LINES) * LINES;
        onTurn();
        return false;
      }
      element.hidden = total <= LINES;
      place.textContent = `${formatNumber(offset + 1, 0)}\u2013${formatNumber(offset + shown, 0)} of ${formatNumber(total, 0)}`;
      back.disabled = offset === 0;
      next.disabled = offset + shown >= total;
      return true;
    },
  };
}
