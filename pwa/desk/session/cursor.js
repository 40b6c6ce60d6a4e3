// @ts-check
/** The one cursor: a moment in session time that charts, map, readout and ladder all follow. */

/**
 * @typedef {object} Cursor
 * @property {() => number | null} at session time, ms
 * @property {() => boolean} held a held cursor stays where it is when a pointer passes over
 * @property {(tMs: number) => void} hover moves it unless it is held
 * @property {(tMs: number) => void} hold moves it and keeps it there
 * @property {() => number | null} pointed where a pointer is while the cursor is held elsewhere
 * @property {() => void} leave no pointer is on a chart any more
 * @property {() => void} release
 * @property {(listener: () => void) => void} follow called once per frame at most
 */

/** @returns {Cursor} */
export function createCursor() {
  /** @type {number | null} */
  let atMs = null;
  let isHeld = false;
  /** @type {number | null} */
  let pointedMs = null;
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
      if (tMs === (isHeld ? pointedMs : atMs)) return;
      if (isHeld) pointedMs = tMs;
      else atMs = tMs;
      tell();
    },
    pointed: () => pointedMs,
    leave() {
      if (pointedMs === null) return;
      pointedMs = null;
      tell();
    },
    hold(tMs) {
      pointedMs = null;
      atMs = tMs;
      isHeld = true;
      tell();
    },
    release() {
      isHeld = false;
      pointedMs = null;
      tell();
    },
    follow: (listener) => void listeners.push(listener),
  };
}
