// @ts-check
/**
 * The moment at which a figure was seen. A touch takes it, and it runs out: who types later has
 * looked again since, so that a stroke after a pause takes a moment of its own. Pure.
 */

/** @typedef {import("../phone/types").Stamp} Stamp */

/** From a look at the display to the first digit: common practice, no source. */
export const RUNS_OUT_MS = 8000;

/** @param {Stamp} first of the touch that opened the pad */
export function startMoment(first) {
  let at = first;
  /** since the moment, or the last digit of the figure that is being typed */
  let stroke_ms = first.mono_ms;

  /** @param {Stamp} now */
  function renew(now) {
    at = now;
    stroke_ms = now.mono_ms;
  }

  return {
    /** @returns {Stamp} what a figure is stored with */
    at: () => at,
    /** @param {Stamp} now @returns {number} milliseconds */
    age_ms: (now) => now.mono_ms - at.mono_ms,
    /** Until the next stroke takes a fresh one. @param {Stamp} now @returns {number} milliseconds, negative after that */
    left_ms: (now) => stroke_ms + RUNS_OUT_MS - now.mono_ms,
    /** @param {Stamp} now */
    hasRunOut: (now) => now.mono_ms - stroke_ms > RUNS_OUT_MS,
    /** The display is looked at now. */
    renew,
    /** @param {Stamp} now @returns {boolean} whether it took a fresh moment */
    stroke(now) {
      const isFresh = now.mono_ms - stroke_ms > RUNS_OUT_MS;
      if (isFresh) renew(now);
      else stroke_ms = now.mono_ms;
      return isFresh;
    },
    /** The figure is stored: for the next one the moment counts from where it was taken. */
    stored() {
      stroke_ms = at.mono_ms;
    },
  };
}

/** @typedef {ReturnType<typeof startMoment>} Moment */
