// @ts-check
/** All photos of a session at a glance: when, what was typed from each, and the way to the rest. */
import { el } from "../page/dom.js";
import { keepingFocus } from "../page/keep-focus.js";
import { oneStop } from "../page/rows.js";
import { clockOffsets } from "../session/clock.js";
import { recordWords } from "../words/wording.js";
import { createSpokenNotes } from "./spoken-notes.js";
import { createPhotoDesk, photoUrl, readingsByPhoto } from "./photo-desk.js";

/**
 * @param {import("../session/cursor.js").Cursor} cursor
 * @param {() => Promise<void>} onSaved
 */
export function createPhotoStrip(cursor, onSaved) {
  const desk = createPhotoDesk(onSaved);
  const spoken = createSpokenNotes(cursor);
  const count = el("p", { class: "photo-count" });
  const begin = el("button", { type: "button", class: "primary", onclick: () => desk.open() }, "Type figures from photos");
  const list = oneStop(el("ul", { class: "photo-list" }), "li");
  const empty = el("p", { class: "empty" }, "No photos. The phone takes them beside a tap; a session file with photos brings them along.");
  const element = el("div", { class: "photos" }, el("div", { class: "photo-bar" }, begin, count), list, empty, spoken.element, desk.element);

  return {
    element,
    open: desk.open,
    /** @param {import("../session/model.js").Model} model */
    update(model) {
      const { photos, readings } = model.session;
      const offset = clockOffsets(model.session);
      const byPhoto = readingsByPhoto(readings);
      const typed = photos.filter(({ sha256 }) => byPhoto.has(sha256)).length;
      empty.hidden = photos.length > 0;
      begin.hidden = count.hidden = list.hidden = photos.length === 0;
      count.textContent = `${photos.length} photo${photos.length === 1 ? "" : "s"}, figures typed from ${typed}`;
      desk.update(model);
      spoken.update(model);
      const moments = photos.map((photo) => ({
        photo, atMs: typeof photo.t_ms === "number" ? photo.t_ms + offset(photo.device ?? "") : null,
      })).sort((a, b) => (a.atMs ?? Infinity) - (b.atMs ?? Infinity));
      keepingFocus(list, () => list.replaceChildren(...moments.map(({ photo, atMs }) => {
        const time = atMs === null ? "time not known" : model.clock.time(atMs);
        const held = byPhoto.get(photo.sha256) ?? [];
        return el("li", {}, el("button", {
          type: "button", class: `photo-tile${held.length ? " is-typed" : ""}`,
          "aria-label": `Photo at ${time}, ${held.length ? `typed: ${held.map(recordWords).join(", ")}` : "nothing typed yet"}`,
          onclick: () => {
            if (atMs !== null) cursor.hold(atMs);
            desk.open(photo.sha256);
          },
        }, el("img", { src: photoUrl(model.id, photo.sha256), alt: "", loading: "lazy", decoding: "async", width: 132, height: 88 }),
        el("span", { class: "photo-time" }, time),
        el("span", { class: "photo-typed" }, held.length ? held.map(recordWords).join(", ") : "nothing typed yet")));
      })));
    },
  };
}
