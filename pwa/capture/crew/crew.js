// @ts-check
/**
 * Hears what the other phones of the session recorded, and the desk, while the page is looked at
 * and its own records reach the server. What another phone gave is never sent or saved as this
 * one's, and lies apart from what it recorded; the last known is kept for a page that is loaded
 * again without network.
 */
import { ApiError } from "../../shared/api.js";
import { createPacer } from "../sending/pacing.js";
import { createOthers } from "./others.js";

/** @typedef {import("../storage/rows").RecordRow} RecordRow */

const EVERY_MS = 4000;
const KEPT_EVERY_MS = 60_000; // with news at once

/** @param {import("./types").CrewParts} parts */
export function createCrew({ request, device, run, mayAsk, monoMs, wallMs, random, remember, remembered, onNews }) {
  /** @type {{ run: import("./types").Recording, others: ReturnType<typeof createOthers>, at_ms: number | null, kept_ms: number } | null} */
  let heard = null;
  const pacer = createPacer({ work: ask, regular_ms: EVERY_MS, again_ms: EVERY_MS, monoMs, random, onChange() {} });

  /** Of the session that is being recorded. */
  function others() {
    const now = run();
    if (!now) return null;
    if (heard?.run !== now) {
      heard = { run: now, others: createOthers({ session: now.row.id, device, alongAt: now.alongAt }), at_ms: null, kept_ms: 0 };
    }
    return heard.others;
  }

  /** What was last known of the session's others, before a page that was loaded again hears them. */
  async function recall() {
    const asked = others();
    const kept = await remembered().catch(() => undefined);
    if (!asked || asked !== others() || !heard || heard.at_ms !== null || kept?.session !== heard.run.row.id) return;
    asked.take(kept.told);
    heard.at_ms = kept.at_ms;
  }

  async function ask() {
    const [asked, row] = [others(), run()?.row];
    if (!asked || !row || !await mayAsk(row)) return;
    const about = new URLSearchParams({ device, since: asked.until() });
    const told = await request(`/sessions/${row.id}/crew?${about}`, { token: row.token });
    if (!Array.isArray(told?.events) || !Array.isArray(told.readings) || !Array.isArray(told.devices)) {
      throw new ApiError("The answer did not come from Ebbline's server.", 0);
    }
    const news = asked.take(told);
    if (asked !== others() || !heard) return;
    heard.at_ms = wallMs();
    if (news.length || heard.at_ms - heard.kept_ms >= KEPT_EVERY_MS) {
      heard.kept_ms = heard.at_ms;
      void remember({ session: row.id, at_ms: heard.at_ms, told: asked.told() }).catch(() => undefined); // only a copy
    }
    if (news.length) onNews(news);
  }

  return {
    /** @param {RecordRow[]} own @returns {RecordRow[]} with the others' among them */
    beside: (own) => others()?.beside(own) ?? own,
    /** Who recorded it; empty: this phone. @param {RecordRow} row */
    who: (row) => others()?.who(row) ?? "",
    recall,
    /** When the others were last heard, by the wall clock; null: never, or there are none. */
    heard_ms: () => (others()?.beside([]).length ? heard?.at_ms ?? null : null),
    /** Now: a recording begins, the network or the page is back. */
    hurry: () => pacer.hurry(),
  };
}
