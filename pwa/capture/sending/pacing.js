// @ts-check
/**
 * When to try: soon after something new, regularly, and ever more rarely while the line is dead.
 * One try at a time.
 */

const FIRST_WAIT_MS = 2000;
const LONGEST_WAIT_MS = 60000;

/**
 * @param {number} failures in a row, at least one @param {number} random in [0, 1)
 * @param {number} [longest_ms]
 */
export const backOff_ms = (failures, random, longest_ms = LONGEST_WAIT_MS) =>
  Math.min(longest_ms, FIRST_WAIT_MS * 2 ** (failures - 1)) * (0.5 + random / 2);

/**
 * @param {object} parts
 * @param {(failures: number) => Promise<void>} parts.work throws when the line is dead; is told
 *   how often in a row it has
 * @param {number} parts.regular_ms
 * @param {() => number | undefined} [parts.longest_ms] wait while the line is dead, where it is not the usual
 * @param {number} parts.again_ms wait when something came during a try
 * @param {() => number} parts.monoMs
 * @param {() => number} parts.random in [0, 1)
 * @param {() => void} parts.onChange
 */
export function createPacer({ work, regular_ms, longest_ms, again_ms, monoMs, random, onChange }) {
  let timer = /** @type {ReturnType<typeof setTimeout> | undefined} */ (undefined);
  let due_ms = Infinity;
  let failures = 0;
  let running = false;
  let again = false;
  let problem = "";

  /** @param {number} wait_ms */
  function plan(wait_ms) {
    const at_ms = monoMs() + wait_ms;
    if (at_ms >= due_ms) return;
    due_ms = at_ms;
    clearTimeout(timer);
    timer = setTimeout(() => void attempt(), wait_ms);
  }

  async function attempt() {
    if (running) {
      again = true;
      return;
    }
    running = true;
    clearTimeout(timer);
    due_ms = Infinity;
    onChange();
    try {
      await work(failures);
      failures = 0;
      problem = "";
    } catch (error) {
      failures += 1;
      problem = error instanceof Error ? error.message : String(error);
    }
    running = false;
    const wait_ms = failures ? backOff_ms(failures, random(), longest_ms?.()) : again ? again_ms : regular_ms;
    again = false;
    plan(wait_ms);
    onChange();
  }

  return {
    /** Why the last try failed; empty after a success. */
    problem: () => problem,
    /** Now: at start, when the network or the page comes back, when the user asks. */
    hurry() {
      failures = 0;
      due_ms = Infinity;
      void attempt();
    },
    /** Within this time; a failing line is not hammered. @param {number} wait_ms */
    within(wait_ms) {
      if (running) again = true;
      else if (!failures) plan(wait_ms);
    },
  };
}
