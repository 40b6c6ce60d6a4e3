// @ts-check
/**
 * A table's rows as one stop of the Tab key. Arrows go from row to row and from cell to cell, Home
 * and End to the first and the last row; a cell that can tell how it was reached can be gone to.
 */

const PLACES = "button, a[href], audio, [data-how]";

/**
 * @template {HTMLElement} T
 * @param {T} host whose rows these are: a table, or a list of buttons in one line
 * @param {string} [row] what a row is
 * @returns {T}
 */
export function oneStop(host, row = "tbody tr") {
  if (host instanceof HTMLTableElement) host.setAttribute("role", "grid");
  host.addEventListener("focusin", (event) => current(placeOf(event.target)));
  host.addEventListener("keydown", (event) => {
    const at = placeOf(event.target);
    if (!at || event.ctrlKey || event.metaKey || event.altKey) return;
    const to = next(at, event.key, event.target instanceof HTMLAudioElement);
    if (!to) return;
    event.preventDefault();
    to.focus();
  });
  new MutationObserver(settle).observe(host, { childList: true, subtree: true });
  settle();
  return host;

  function rows() {
    return [...host.querySelectorAll(row)].map(placesIn).filter((places) => places.length > 0);
  }

  /** @param {EventTarget | null} target */
  function placeOf(target) {
    return target instanceof HTMLElement ? rows().flat().find((place) => place === target) ?? null : null;
  }

  /** @param {HTMLElement | null} place the one that Tab comes to */
  function current(place) {
    if (!place) return;
    for (const other of rows().flat()) other.tabIndex = other === place ? 0 : -1;
  }

  function settle() {
    const places = rows().flat();
    const kept = places.find((place) => place.getAttribute("tabindex") === "0") ?? places[0];
    for (const place of places) place.tabIndex = place === kept ? 0 : -1;
  }

  /** @param {HTMLElement} at @param {string} key @param {boolean} plays whose own keys are left and right */
  function next(at, key, plays) {
    const all = rows();
    const y = all.findIndex((places) => places.includes(at));
    const x = all[y]?.indexOf(at) ?? 0;
    /** @param {HTMLElement[] | undefined} line */
    const below = (line) => line?.[Math.min(x, line.length - 1)];
    switch (key) {
      case "ArrowDown": return below(all[y + 1]);
      case "ArrowUp": return below(all[y - 1]);
      case "Home": return below(all[0]);
      case "End": return below(all.at(-1));
      case "ArrowRight": return plays ? null : all[y]?.[x + 1] ?? (host instanceof HTMLTableElement ? null : all[y + 1]?.[0]);
      case "ArrowLeft": return plays ? null : all[y]?.[x - 1] ?? (host instanceof HTMLTableElement ? null : all[y - 1]?.at(-1));
      default: return null;
    }
  }
}

/** @param {Element} row @returns {HTMLElement[]} */
function placesIn(row) {
  if (row instanceof HTMLElement && row.hidden) return [];
  return /** @type {HTMLElement[]} */ ([...row.querySelectorAll(PLACES)]);
}
