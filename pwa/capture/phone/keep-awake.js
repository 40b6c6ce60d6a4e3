// @ts-check
/** Keeps the screen on while recording: without it the page is hidden and the fixes stop. */

/** `lost`: it was on and is no more. @typedef {"on" | "off" | "lost" | "refused" | "unknown here"} WakeState */

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
      if (state !== "lost") state = "refused"; // battery saver, or a policy of the browser
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
