// @ts-check
/** All spoken notes of a session: when each began, with what it was kept, and the way to hear it. */
import { el } from "../page/dom.js";
import { player } from "../session/spoken.js";
import { recordWords } from "../words/wording.js";

/** @param {import("../session/cursor.js").Cursor} cursor */
export function createSpokenNotes(cursor) {
  const list = el("ul", { class: "spoken-notes", "aria-label": "Spoken notes" });
  return {
    element: list,
    /** @param {import("../session/model.js").Model} model */
    update(model) {
      const rows = [...model.events, ...model.readings];
      list.hidden = model.spoken.length === 0;
      list.replaceChildren(...model.spoken.map((note) => {
        const time = note.atMs === null ? "time not known" : model.clock.time(note.atMs);
        const row = rows.find(({ record, earlier }) => [record, ...earlier].some(({ id }) => id === note.event));
        const words = `Spoken note at ${time}${row ? `, with ${recordWords(row.withdrawn ? row.earlier[0] ?? row.record : row.record)}` : ""}`;
        const heard = player(note, words);
        heard.addEventListener("play", () => note.atMs !== null && cursor.hold(note.atMs));
        return el("li", {}, el("span", {}, words), heard);
      }));
    },
  };
}
