// @ts-check
/** Figures that are behind are worked out a piece at a time while somebody looks at the list. */
import { request } from "../../shared/api.js";

const PAUSE_MS = 1000; // between pieces of about a second, so that others get their turn
const AFTER_TROUBLE_MS = 10_000;

/**
 * @param {() => Promise<void>} onDone when sessions on the page were worked out
 */
export function createRenewal(onDone) {
  /** @type {string[]} */
  let first = [];
  let behind = 0;
  let running = false;

  async function run() {
    if (running) return;
    running = true;
    while (behind > 0) {
      let pause = PAUSE_MS;
      if (!document.hidden) {
        try {
          const onPage = first.length;
          const { done, left } = await request("/sessions/renewals", { method: "POST", body: { first }, timeoutMs: 300_000 });
          behind = left;
          if (done === 0) pause = AFTER_TROUBLE_MS; // others work on what is left
          if (onPage > 0) await onDone();
          if (first.length > 0 && done > 0) pause = 0; // somebody waits for these
        } catch {
          pause = AFTER_TROUBLE_MS;
        }
      }
      if (behind > 0) await new Promise((resolve) => setTimeout(resolve, pause));
    }
    running = false;
  }

  return {
    /** @param {import("../session/documents").Listing} listing as it was just shown */
    follow(listing) {
      first = listing.sessions.filter((row) => !row.worked_out).map((row) => row.id);
      behind = Math.max(listing.behind, first.length);
      void run();
    },
  };
}
