// @ts-check
/** The phone's state in words: short for the strip that is always seen, longer when asked. Pure. */
import { GAP_MS } from "../position/gps.js";
import { shortSpan, span, unsentWords } from "../records/words.js";

/**
 * `known`: not as it should be, which was said before the start and hasn't changed since.
 * @typedef {{ text: string, tone: "good" | "known" | "doubt" | "bad" }} Cell
 */
/** @typedef {{ gps: Cell, sync: Cell, screen: Cell, storage: Cell }} Cells */
/** @typedef {import("./types").PhoneState} PhoneState */

/** Pieces of track that may be under way before the strip speaks of them. */
const MOST_FRESH_TRACK = 20;

export const SCREEN_MAY_DIM = "the screen may go dark. Set its time-out to the longest, or touch it at times.";

/** A fix is usually this young; the strip tells the age of an older one. */
const FRESH_MS = 2000;
/** Others are asked for each four seconds; later than this something is in the way. */
const CREW_FRESH_MS = 20_000;

/** @param {PhoneState} state @returns {Cells} */
export function stateCells({ gps, elsewhere, counts, kept, outbox, wake, now_ms }) {
  return {
    gps: elsewhere ? { text: "other tab", tone: "bad" } : gpsCell(gps, now_ms),
    sync: syncCell(counts, outbox),
    screen: screenCell(wake),
    storage: kept.kept ? { text: "safe", tone: "good" } : { text: "at risk", tone: "known" },
  };
}

/** @param {PhoneState} state @returns {import("./view-status.js").StatusLine[]} */
export function stateLines(state) {
  const { gps, counts, kept, outbox, now_ms } = state;
  const cells = stateCells(state);
  const unsent = `Unsent: ${unsentWords(counts)}.`;
  const refused = counts.refused
    ? `${counts.refused} refused by the server: kept on this phone and in its file; the log says why.` : "";
  const synced = outbox.synced_ms === null ? "Nothing sent since this page was opened."
    : `Last sent ${span(now_ms - outbox.synced_ms)} ago.`;
  const free = kept.free_bytes === null ? "" : ` ${(kept.free_bytes / 1e9).toFixed(1)} GB free.`;
  return [
    line("GPS", cells.gps, state.elsewhere ? ELSEWHERE : [gpsAdvice(gps, now_ms), gps.cause && `Cause: ${gps.cause}.`].filter(Boolean).join(" ")),
    line("Server", cells.sync, [unsent, refused, outbox.problem, outbox.shut ? SHUT : "", synced].filter(Boolean).join(" ")),
    line("Screen", cells.screen, state.wake === "on" ? "Kept awake while recording."
      : `It may go dark, and GPS stops then. ${state.wake === "untouched" ? "A touch anywhere keeps it on." : "Set the phone's own screen time-out to its longest."}`),
    line("Storage", cells.storage, (kept.kept ? "The browser promised to keep it."
      : "The browser may clear it when short of space: send it, or save it as a file.") + free),
    ...(state.crew_age_ms === null ? [] : [crewLine(state.crew_age_ms)]),
  ];
}

/** Whether what is known of the others needs no word. @param {number} age_ms */
export const isFresh = (age_ms) => age_ms < CREW_FRESH_MS;

/** @param {number} age_ms */
const crewLine = (age_ms) => isFresh(age_ms) ? line("Crew", { text: "heard", tone: "good" }, "What the others tap shows here within seconds.")
  : line("Crew", { text: `as of ${shortSpan(age_ms)} ago`, tone: "doubt" }, "What the others tapped since is not known here until the network is back.");

const ELSEWHERE = "Another tab of this phone records the position. Go on there; once it is closed, this one takes over.";
const SHUT = "Everything stays on this phone. Scan a new code from the desk, or save the session as a file.";

/** @param {import("../position/types").GpsState} gps @param {number} now_ms */
const gpsAdvice = (gps, now_ms) => gps.quality === "denied"
  ? "Allow the position for this page in the browser's settings. It is taken up by itself; if not, touch Try again."
  : gps.fix ? `Last position ${span(now_ms - gps.fix.t_ms)} ago.` : "Go where the sky is open.";

/** @param {string} name @param {Cell} cell @param {string} advice */
const line = (name, { text, tone }, advice) => ({ name, state: text, tone, advice });

/** @param {PhoneState["wake"]} wake @returns {Cell} */
function screenCell(wake) {
  if (wake === "on") return { text: "stays on", tone: "good" };
  if (wake === "untouched") return { text: "tap once", tone: "doubt" };
  return { text: "may dim", tone: wake === "lost" ? "doubt" : "known" };
}

/** @param {import("../storage/rows").Counts} counts @param {import("../sending/types").OutboxState} outbox @returns {Cell} */
function syncCell(counts, { problem, shut }) {
  const unsent = counts.records + counts.drafts;
  if (shut) return { text: "no access", tone: "bad" };
  if (counts.refused) return { text: `${counts.refused} refused`, tone: "bad" };
  if (unsent) return { text: `${unsent} unsent`, tone: "doubt" };
  if (problem) return { text: "offline", tone: "doubt" };
  if (counts.chunks > MOST_FRESH_TRACK) return { text: "unsent", tone: "doubt" };
  if (counts.photos) return { text: `${counts.photos} unsent`, tone: "doubt" };
  return { text: "all sent", tone: "good" };
}

/** @param {import("../position/types").GpsState} state @param {number} now_ms @returns {Cell} */
function gpsCell({ quality, fix, unstored }, now_ms) {
  if (unstored) return { text: "not stored", tone: "bad" };
  if (quality === "denied") return { text: "blocked", tone: "bad" };
  if (quality === "off") return { text: "off", tone: "bad" };
  if (!fix || quality === "waiting") return { text: "waiting", tone: "doubt" };
  const age_ms = now_ms - fix.t_ms;
  if (age_ms > GAP_MS) return { text: `lost ${shortSpan(age_ms)}`, tone: "bad" };
  const accuracy = fix.accuracy_m === null ? "±?" : `±${Math.round(fix.accuracy_m)}\u00a0m`;
  const age = age_ms < FRESH_MS ? "" : ` ${span(age_ms)}`;
  return { text: accuracy + age, tone: quality === "good" ? "good" : "doubt" };
}
