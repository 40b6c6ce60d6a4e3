// @ts-check
/**
 * Stamps moments on two clocks. The wall clock may be set during a session; the monotonic one
 * may stop while the phone sleeps. `t_ms` runs on the monotonic clock from an anchor in wall
 * time, so that setting the wall clock leaves no dent in it; sleep moves the anchor. Both raw
 * clocks are kept beside it and the server judges.
 */

/** @typedef {import("./types").Stamp} Stamp */
/** @typedef {{ step_ms: number, cause: "clock set" | "sleep" }} ClockStep */

const NOTICED_STEP_MS = 1000;
const STALE_INPUT_MS = 5000;

/**
 * @param {{ wallMs: () => number, monoMs: () => number, page: string }} source
 */
export function startClock({ wallMs, monoMs, page }) {
  let anchor_ms = wallMs() - monoMs();
  let known_ms = anchor_ms;
  let mayHaveSlept = false;

  return {
    /**
     * @param {number} [at_mono_ms] moment of an input event (its `timeStamp`); now if absent
     * @returns {Stamp}
     */
    stamp(at_mono_ms) {
      const now = monoMs();
      const usable =
        at_mono_ms !== undefined && at_mono_ms <= now && at_mono_ms > now - STALE_INPUT_MS;
      const mono_ms = usable ? at_mono_ms : now;
      return {
        t_ms: Math.round(anchor_ms + mono_ms),
        wall_ms: Math.round(wallMs() - (now - mono_ms)),
        mono_ms: Math.round(mono_ms),
        page,
      };
    },
    /** The page went out of sight: the phone may sleep from here on. */
    noteHidden() {
      mayHaveSlept = true;
    },
    /**
     * Compare the two clocks; to be called when the page shows again and now and then.
     * @returns {ClockStep | null} a step not reported before
     */
    check() {
      const apart_ms = wallMs() - monoMs();
      const step_ms = Math.round(apart_ms - known_ms);
      const slept = mayHaveSlept;
      mayHaveSlept = false;
      if (Math.abs(step_ms) < NOTICED_STEP_MS) return null;
      known_ms = apart_ms;
      if (step_ms > 0 && slept) {
        anchor_ms += step_ms;
        return { step_ms, cause: "sleep" };
      }
      return { step_ms, cause: "clock set" };
    },
  };
}

/** @typedef {ReturnType<typeof startClock>} Clock */
