// @ts-check
/** Film time to session time, by the marks that a clap or flash left on film and on the phone. */

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {{ camera: string, filmS: number, atMs: number }} FilmMark  seconds of film at a moment */

/**
 * @param {Model} model
 * @returns {FilmMark[]} in order of time
 */
export function filmMarks(model) {
  return model.events.flatMap(({ record, withdrawn, atMs }) =>
    withdrawn || record.kind !== "film_sync" || typeof record.value !== "number" ? []
      : [{ camera: record.text?.trim() || "camera", filmS: record.value, atMs }]);
}

/**
 * The moment that a camera saw at a film time. With two marks of one camera its clock's drift
 * between them is taken out by a straight line; outside them, and with one mark, film and session
 * run equally fast from the nearest mark.
 * @param {FilmMark[]} marks
 * @param {string} camera
 * @param {number} filmS
 * @returns {number | null} session time, ms; null when the camera left no mark
 */
export function momentOfFilm(marks, camera, filmS) {
  const own = marks.filter((mark) => mark.camera === camera).sort((a, b) => a.filmS - b.filmS);
  const before = own.filter((mark) => mark.filmS <= filmS).at(-1);
  const after = own.find((mark) => mark.filmS > filmS);
  const near = before ?? after;
  if (!near) return null;
  const rate = before && after ? (after.atMs - before.atMs) / (after.filmS - before.filmS) : 1000;
  return near.atMs + (filmS - near.filmS) * rate;
}

/**
 * @param {string} text "754.2", "12:34.2" or "1:12:34.2", with a point or a comma
 * @returns {number | null} seconds of film; null when the text is no film time
 */
export function readFilmTime(text) {
  const match = /^\s*(?:(?:(\d+):)?(\d+):)?(\d+(?:[.,]\d+)?)\s*$/.exec(text);
  if (!match) return null;
  const [hours, minutes, seconds] = [match[1], match[2], match[3]].map((part) => Number((part ?? "0").replace(",", ".")));
  if (match[2] !== undefined && (seconds ?? 0) >= 60) return null;
  if (match[1] !== undefined && (minutes ?? 0) >= 60) return null;
  return (hours ?? 0) * 3600 + (minutes ?? 0) * 60 + (seconds ?? 0);
}
