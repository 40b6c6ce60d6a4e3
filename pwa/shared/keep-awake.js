// @ts-check
/** Keeps the screen on: a dark one hides the page, and a hidden page gets no positions. */

/**
 * `lost`: it was on and is no more; `untouched`: the browser grants it to a page that was touched,
 * which this one wasn't since it was loaded.
 * @typedef {"on" | "off" | "lost" | "untouched" | "refused" | "unknown here"} WakeState
 */

/** @param {{ navigator: Navigator, isVisible: () => boolean, onChange: () => void }} parts */
export function createKeepAwake({ navigator, isVisible, onChange }) {
  let wanted = false;
  let asking = false;
  /** @type {WakeLockSentinel | null} */
  let lock = null;
  /** @type {WakeState} */
  let state = "wakeLock" in navigator ? "off" : "unknown here";

  async function ask() {
    if (!wanted || lock || asking || !isVisible() || !("wakeLock" in navigator)) return;
    asking = true;
    try {
      lock = await navigator.wakeLock.request("screen");
      state = "on";
      lock.addEventListener("release", () => {
        lock = null;
        state = wanted ? "lost" : "off";
        onChange();
      });
    } catch {
      const isUntouched = navigator.userActivation?.hasBeenActive === false;
      if (isUntouched) state = "untouched";
      else if (state !== "lost") state = "refused"; // battery saver, or a policy of the browser
    }
    asking = false;
    if (!wanted) void lock?.release(); // the run ended while the browser thought about it
    onChange();
  }

  return {
    /** @returns {WakeState} */
    state: () => state,
    start() {
      wanted = true;
      void ask();
    },
    stop() {
      wanted = false;
      void lock?.release();
    },
    /** The lock is lost when the page is hidden: ask again. */
    shown: () => void ask(),
  };
}
