// @ts-check
/** The report's pages to look at, one after the other. */
import { request } from "../../shared/api.js";
import { el } from "../page/dom.js";

/**
 * @param {string} id session
 */
export function createPreview(id) {
  const path = `/sessions/${encodeURIComponent(id)}/publish/pages`;
  let page = 1;
  let count = 0;
  let units = "";
  const picture = el("img", { alt: "", width: 910, height: 1287 });
  const sheet = el("div", { class: "preview-sheet" }, el("p", { class: "preview-waiting" }, "Setting the report\u2026"));
  const place = el("p", { class: "preview-place", role: "status" }, "\u00a0");
  const back = el("button", { type: "button", class: "quiet", disabled: true, onclick: () => turn(-1) }, "Previous page");
  const next = el("button", { type: "button", class: "quiet", disabled: true, onclick: () => turn(1) }, "Next page");
  const element = el("div", { class: "preview" }, sheet, el("div", { class: "preview-turn" }, back, place, next));

  /** @param {number} by */
  function turn(by) {
    page = Math.min(count, Math.max(1, page + by));
    draw();
  }

  function draw() {
    picture.src = `/api${path}/${page}?${units}`;
    picture.alt = `Page ${page} of the report; the HTML report below holds the same as text`;
    place.textContent = `Page ${page} of ${count}`;
    back.disabled = page <= 1;
    next.disabled = page >= count;
  }

  return {
    element,
    /** @param {string} nextUnits as an address carries them */
    async show(nextUnits) {
      units = nextUnits;
      try {
        count = (await request(`${path}?${units}`, { timeoutMs: 120_000 })).count;
      } catch (error) {
        sheet.replaceChildren(el("p", { class: "preview-waiting" },
          `The report can\u2019t be shown: ${error instanceof Error ? error.message : error}`));
        return;
      }
      page = Math.min(page, count);
      sheet.replaceChildren(picture);
      draw();
    },
  };
}
