// @ts-check
/** A moment, typed as clock time in the session's zone or taken from the cursor. */
import { el } from "../dom.js";

/**
 * @param {import("../cursor.js").Cursor} cursor
 * @param {string} id
 */
export function createMomentField(cursor, id) {
  /** @type {import("../clock.js").SessionClock | null} */
  let clock = null;
  let nearMs = 0;
  /** what the text stands for when it was filled in rather than typed
   * @type {{ text: string, tMs: number } | null} */
  let exact = null;
  const input = el("input", {
    id, type: "text", inputmode: "numeric", autocomplete: "off", placeholder: "hh:mm:ss", size: 10,
    required: true, "aria-describedby": `${id}-zone`,
  });
  const zone = el("span", { class: "field-note", id: `${id}-zone` }, " ");
  /** @param {number} tMs */
  function set(tMs) {
    if (!clock) return;
    const text = clock.time(tMs, 1);
    exact = { text, tMs: Math.round(tMs) };
    input.value = text;
    input.removeAttribute("aria-invalid");
  }
  const element = el("div", { class: "field field-moment" },
    el("label", { for: id }, "Moment"),
    el("div", { class: "field-joined" }, input, el("button", {
      type: "button", class: "quiet",
      onclick: () => {
        const tMs = cursor.at();
        if (tMs !== null) set(tMs);
      },
    }, "At cursor")),
    zone);
  return {
    element, input, set,
    /**
     * @param {import("../clock.js").SessionClock} nextClock
     * @param {number} startMs some moment of the session
     */
    update(nextClock, startMs) {
      clock = nextClock;
      nearMs = startMs;
      zone.textContent = `${clock.date(startMs)}, ${clock.zone}`;
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
