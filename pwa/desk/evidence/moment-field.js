// @ts-check
/** A moment: typed as clock time in the session's zone, taken from the cursor, or read off a film. */
import { el } from "../page/dom.js";
import { mark } from "../page/form-status.js";
import { filmMarks, momentOfFilm, readFilmTime } from "./film.js";

/**
 * @param {import("../session/cursor.js").Cursor} cursor
 * @param {string} id
 */
export function createMomentField(cursor, id) {
  /** @type {import("../session/clock.js").SessionClock | null} */
  let clock = null;
  let nearMs = 0;
  /** @type {import("./film.js").FilmMark[]} */
  let marks = [];
  /** what the text stands for when it was filled in rather than typed
   * @type {{ text: string, tMs: number } | null} */
  let exact = null;
  const input = el("input", {
    id, type: "text", inputmode: "numeric", autocomplete: "off", placeholder: "hh:mm:ss", size: 10,
    required: true, "aria-describedby": `${id}-zone`,
  });
  const zone = el("span", { class: "field-note", id: `${id}-zone` }, " ");
  const film = el("input", {
    id: `${id}-film`, type: "text", inputmode: "decimal", autocomplete: "off", placeholder: "min:s of film", size: 9,
    oninput: fromFilm,
  });
  const camera = el("select", { "aria-label": "Camera", onchange: fromFilm });
  const filmField = el("div", { class: "field", hidden: true },
    el("label", { for: film.id }, "or film time"), el("div", { class: "field-joined" }, film, camera));

  function fromFilm() {
    const filmS = readFilmTime(film.value);
    const tMs = filmS === null ? null : momentOfFilm(marks, camera.value, filmS);
    mark(film, film.value.trim() !== "" && tMs === null ? "That isn\u2019t a time of this film." : "");
    if (tMs !== null) set(tMs);
  }

  /** @param {number} tMs */
  function set(tMs) {
    if (!clock) return;
    const text = clock.time(tMs, 1);
    exact = { text, tMs: Math.round(tMs) };
    input.value = text;
    input.removeAttribute("aria-invalid");
  }

  const element = el("div", { class: "moment-fields" },
    el("div", { class: "field field-moment" },
      el("label", { for: id }, "Moment"),
      el("div", { class: "field-joined" }, input, el("button", {
        type: "button", class: "quiet",
        onclick: () => {
          const tMs = cursor.at();
          if (tMs !== null) set(tMs);
        },
      }, "At cursor")),
      zone),
    filmField);
  return {
    element, input, set,
    clear() {
      input.value = "";
      film.value = "";
    },
    /**
     * @param {import("../session/model.js").Model} model
     * @param {number} startMs some moment of the session
     */
    update(model, startMs) {
      clock = model.clock;
      nearMs = startMs;
      zone.textContent = `${clock.date(startMs)}, ${clock.zone}`;
      marks = filmMarks(model);
      filmField.hidden = marks.length === 0;
      const chosen = camera.value;
      camera.replaceChildren(...[...new Set(marks.map((mark) => mark.camera))]
        .map((name) => el("option", { value: name, selected: name === chosen }, name)));
    },
    /** @returns {number | null} session time; null when the text is no time of day */
    read() {
      const text = input.value.trim();
      if (exact && exact.text === text) return exact.tMs;
      return clock?.parse(text, cursor.at() ?? nearMs) ?? null;
    },
    /** @returns {boolean} whether it still says what was filled in */
    untouched: () => exact !== null && exact.text === input.value.trim(),
  };
}

/**
 * @param {string} text as typed, with a point or a comma
 * @returns {number | null} null when it is no number
 */
export function readNumber(text) {
  const plain = text.trim().replace(",", ".").replace("\u2212", "-");
  return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : null;
}
