// @ts-check
/**
 * Hears what the other phones of the session recorded, and the desk, while the page is looked at
 * and its own records reach the server. It is held in memory alone: what another phone gave is
 * never stored, sent or saved as this one's.
 */
import { ApiError } from "../../shared/api.js";
import { createPacer } from "../sending/pacing.js";
import { createOthers } from "./others.js";

/** @typedef {import("../storage/rows").RecordRow} RecordRow */

const EVERY_MS = 4000;

/** @param {import("./types").CrewParts} parts */
export function createCrew({ request, device, run, mayAsk, monoMs, random, onNews }) {
  /** @type {{ run: import("./types").Recording, others: ReturnType<typeof createOthers> } | null} */
  let heard = null;
  const pacer = createPacer({ work: ask, regular_ms: EVERY_MS, again_ms: EVERY_MS, monoMs, random, onChange() {} });

  /** Of the session that is being recorded. */
  function others() {
    const now = run();
    if (!now) return null;
    if (heard?.run !== now) {
      heard = { run: now, others: createOthers({ session: now.row.id, device, alongAt: now.alongAt }) };
    }
    return heard.others;
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
    if (news.length && asked === others()) onNews(news);
  }

  return {
    /** @param {RecordRow[]} own @returns {RecordRow[]} with the others' among them */
    beside: (own) => others()?.beside(own) ?? own,
    /** Who recorded it; empty: this phone. @param {RecordRow} row */
    who: (row) => others()?.who(row) ?? "",
    /** Now: a recording begins, the network or the page is back. */
    hurry: () => pacer.hurry(),
  };
}
