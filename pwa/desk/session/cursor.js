// @ts-check
/** The one cursor: a moment in session time that charts, map, readout and ladder all follow. */

/**
 * @typedef {object} Cursor
 * @property {() => number | null} at session time, ms
 * @property {() => boolean} held a held cursor stays where it is when a pointer passes over
 * @property {(tMs: number) => void} hover moves it unless it is held
 * @property {(tMs: number) => void} hold moves it and keeps it there
 * @property {() => void} release
 * @property {(listener: () => void) => void} follow called once per frame at most
 */

/** @returns {Cursor} */
export function createCursor() {
  /** @type {number | null} */
  let atMs = null;
  let isHeld = false;
  let pending = false;
  /** @type {(() => void)[]} */
  const listeners = [];
  const tell = () => {
    if (pending) return;
    pending = true;
    requestAnimationFrame(() => {
      pending = false;
      for (const listener of listeners) listener();
    });
  };
  return {
    at: () => atMs,
    held: () => isHeld,
    hover(tMs) {
      if (isHeld || tMs === atMs) return;
      atMs = tMs;
      tell();
    },
    hold(tMs) {
      atMs = tMs;
      isHeld = true;
      tell();
    },
    release() {
      isHeld = false;
      tell();
    },
    follow: (listener) => void listeners.push(listener),
  };
}
