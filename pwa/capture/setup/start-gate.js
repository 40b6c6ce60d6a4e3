// @ts-check
/** What a recording needs of the phone, seen before it starts, each with its remedy. Pure. */

/** @typedef {import("./types").GateLine} GateLine */

const GOOD_M = 20;

/** @param {import("./types").GateState} state @returns {GateLine[]} */
export const gateLines = (state) => [positionLine(state), storageLine(state), screenLine(state)];

/** @param {import("./types").GateState} state @returns {GateLine} */
function positionLine({ denied, accuracy_m }) {
  const name = "Position";
  if (denied) {
    return { name, tone: "bad", state: "blocked", remedy: "Allow the position for this page in the browser's settings, and location in the phone's. It shows here by itself; if not, touch Try again." };
  }
  if (accuracy_m === null) {
    return { name, tone: "bad", state: "none yet", remedy: "Allow it when the browser asks, and go where the sky is open." };
  }
  const state = `±${Math.round(accuracy_m)} m`;
  return accuracy_m > GOOD_M
    ? { name, tone: "doubt", state, remedy: `Go where the sky is open: ±${GOOD_M} m or better is good.` }
    : { name, tone: "good", state, remedy: "" };
}

/** @param {import("./types").GateState} state @returns {GateLine} */
function storageLine({ kept }) {
  const name = "Storage";
  return kept ? { name, tone: "good", state: "safe", remedy: "" } : {
    name, tone: "doubt", state: "at risk",
    remedy: "The browser may clear it when short of space. Add this page to the home screen and open it from there, and keep some space free.",
  };
}

/** @param {import("./types").GateState} state @returns {GateLine} */
function screenLine({ wake }) {
  const name = "Screen";
  return wake === "on" ? { name, tone: "good", state: "stays on", remedy: "" } : {
    name, tone: "doubt", state: "may dim",
    remedy: "A dark screen stops the position. Switch the battery saver off, and set the phone's own screen time-out to its longest.",
  };
}

/** @param {GateLine[]} lines @returns {string} what a start now would do without; empty: nothing */
export const missing = (lines) =>
  lines.filter(({ tone }) => tone !== "good").map(({ name, state }) => `${name.toLowerCase()} ${state}`).join(", ");
