// @ts-check
/**
 * Brings one session's records and track to the server. A record stops being sent only when the
 * server's answer names it as held; whatever else happens (no answer, half an answer, a portal's
 * page) it is sent again, and the server knows it by its id. Each answer also says how much the
 * server holds in all: less than it once confirmed means that it lost some, and all is sent again.
 */
import { ApiError } from "../../shared/api.js";
import { merge } from "../setup/merge.js";
import { withDevice } from "../setup/setup.js";
import { joinChunks, settle, uploadOf } from "./batches.js";

/** @typedef {import("../storage/rows").Held} Held */
/** @typedef {import("../storage/rows").SessionRow} SessionRow */
/** @typedef {import("../../shared/api.js").Request} Request */

const MOST_RECORDS = 200;
const MOST_CHUNKS = 120; // a backlog of hours must leave the page free for taps
const CLOCK_CHECK_EVERY_MS = 120000;
const CLOCK_TRIPS = 3;
const LONGEST_DRAFT_MS = 20000; // a question left open, or a tab closed over it, holds up no tap
const LOOK_AGAIN_MS = 12000;
const LOOK_AT_OLD_AGAIN_MS = 600000;

/** @param {import("./types").SendingParts} parts */
export function createSender({ store, request, device, stamp, monoMs, newId, onChange }) {
  /** @type {Map<string, number>} by session: when its clock was last compared */
  const compared_ms = new Map();
  /** @type {Map<string, number>} by session: when what the server holds was last looked at */
  const looked_ms = new Map();
  /** @type {Map<string, { written: string, message: string }>} by session: set-ups not taken */
  const refusedSetups = new Map();
  /** @type {Set<string>} sessions whose refused records this page has offered once more */
  const offeredAgain = new Set();
  /** @type {Set<string>} sessions that lost something and are being sent anew */
  const startedOver = new Set();

  /**
   * @param {SessionRow} row
   * @param {boolean} newest the one that is probably being recorded
   * @returns {Promise<boolean>} whether the server was asked anything
   * @throws {ApiError} status 0: the line is dead; else what the server says of this session
   */
  async function send(row, newest) {
    /** @type {Request} */
    const ask = (path, options = {}) => request(path, { ...options, token: row.token });
    let unsent = await store.counts(row.id);
    if (unsent.drafts) {
      await store.releaseDrafts(row.id, stamp().t_ms, LONGEST_DRAFT_MS);
      unsent = await store.counts(row.id);
    }
    if (unsent.refused && !offeredAgain.has(row.id)) await store.retryRefused(row.id);
    offeredAgain.add(row.id);
    const anything = unsent.records + unsent.chunks + unsent.refused > 0;
    const setupDue = row.revision === null || (row.setup_unsent && !row.token && !isRefused(row));
    const every_ms = newest ? LOOK_AGAIN_MS : LOOK_AT_OLD_AGAIN_MS;
    const lookDue = monoMs() - (looked_ms.get(row.id) ?? -Infinity) > every_ms;
    if (!anything && !setupDue && !lookDue) return false;
    const own = await store.heldCounts(row.id);
    try {
      if (setupDue) await (row.token ? join(row, ask) : sendSetup(row, ask));
      await sendRecords(row, ask, own);
      looked_ms.set(row.id, monoMs());
      startedOver.delete(row.id);
    } catch (error) {
      // a server that lost the session, or some of it, gets all of it again
      if (!(error instanceof ApiError) || error.status !== 404) throw error;
      await store.startOver(row.id);
      if (startedOver.has(row.id)) throw error; // not again and again in one breath
      startedOver.add(row.id);
      const now = await store.session(row.id);
      if (now) await send(now, newest);
    }
    return true;
  }

  /**
   * @param {SessionRow} row @param {Request} ask
   * @param {Held | null} confirmed what the server has confirmed so far, where that is known
   * @returns {Promise<void>} when nothing is unsent
   */
  async function sendRecords(row, ask, confirmed) {
    let share = 1;
    for (;;) {
      const records = await store.recordsIn(row.id, Math.ceil(MOST_RECORDS * share));
      const chunks = await store.unsentChunks(row.id, Math.ceil(MOST_CHUNKS * share));
      const entries = joinChunks(chunks);
      const path = `/sessions/${row.id}/records`;
      let settled;
      try {
        const body = uploadOf(device, records, entries);
        settled = settle(await ask(path, { method: "POST", body, timeoutMs: 30000 }), records, entries);
      } catch (error) {
        // an upload that is refused as a whole: find the piece that is to blame
        if (!(error instanceof ApiError) || ![400, 413, 422].includes(error.status)) throw error;
        if (records.length + chunks.length > 1 && share > 0.001) {
          share /= 4;
          continue;
        }
        const problem = error.message;
        await store.settleRecords([], records.map(({ id }) => ({ id, problem })));
        await store.settleChunks(row.id, chunks.map(({ first }) =>
          ({ first, change: { state: /** @type {const} */ ("refused"), problem } })));
        share = 1;
        if (!records.length && !chunks.length) throw error;
        continue;
      }
      if (confirmed) {
        confirmed.records += settled.held.length;
        confirmed.fixes += settled.fixes;
      }
      if (hasLost(confirmed, row, settled.holds)) {
        throw new ApiError("The server lost what it held.", 404);
      }
      await store.settleRecords(settled.held, settled.refused);
      await store.settleChunks(row.id, settled.chunks);
      onChange();
      if (!records.length && !chunks.length) return;
      if (!settled.held.length && !settled.refused.length && !settled.chunks.length) {
        throw new ApiError("The server did not confirm everything; trying again.", 200);
      }
      const compared = await compareClocks(row.id, ask);
      const more = await store.counts(row.id);
      if (!compared && !more.records && !more.chunks) return;
    }
  }

  /** @param {SessionRow} row */
  const isRefused = (row) => refusedSetups.get(row.id)?.written === JSON.stringify(row.setup);

  /** @param {SessionRow} row @param {Request} ask */
  async function sendSetup(row, ask) {
    try {
      await putSetup(row, ask);
      refusedSetups.delete(row.id);
    } catch (error) {
      if (!(error instanceof ApiError) || ![400, 413, 422].includes(error.status)) throw error;
      const now = await store.session(row.id);
      refusedSetups.set(row.id, { written: JSON.stringify(now?.setup), message: error.message });
      // the records must not wait until somebody has put the set-up right
      if (now?.revision !== null) return;
      const setup = { session: { id: row.id } };
      const answer = await put(ask, row.id, null, setup);
      await store.changeSession(row.id, (here) =>
        ({ ...here, revision: answer.revision, base_setup: setup, setup_unsent: 1 }));
    }
  }

  /** @param {SessionRow} row @param {Request} ask */
  async function putSetup(row, ask) {
    let { setup, revision } = row;
    for (let attempt = 0; ; attempt += 1) {
      try {
        const answer = await put(ask, row.id, revision, setup);
        const sent = setup;
        await store.changeSession(row.id, (now) => ({
          ...now, revision: answer.revision, base_setup: sent,
          setup_unsent: JSON.stringify(now.setup) === JSON.stringify(sent) ? 0 : 1,
        }));
        return;
      } catch (error) {
        const held = error instanceof ApiError && error.status === 409
          ? /** @type {any} */ (error.body)?.held : null;
        if (!held || attempt === 3) throw error;
        ({ setup, revision } = await store.changeSession(row.id, (now) => ({
          ...now, base_setup: held.setup, revision: held.revision, setup_unsent: 1,
          setup: merge(now.base_setup ?? {}, now.setup, held.setup),
        })));
      }
    }
  }

  /**
   * A session that came by a code: its set-up is the desk's, this phone only adds records.
   * @param {SessionRow} row @param {Request} ask
   */
  async function join(row, ask) {
    const answer = await ask("/join");
    if (answer?.session_id !== row.id || !answer.setup) throw notOurs();
    await store.changeSession(row.id, (now) => ({
      ...now, revision: answer.revision, base_setup: answer.setup, setup_unsent: 0,
      setup: withDevice(merge(now.base_setup ?? {}, now.setup, answer.setup), device),
    }));
  }

  /**
   * Round trips to the server's clock; the shortest says most. A lost one costs nothing.
   * @param {string} session @param {Request} ask
   * @returns {Promise<boolean>} whether there is a new record of it
   */
  async function compareClocks(session, ask) {
    if (monoMs() - (compared_ms.get(session) ?? -Infinity) < CLOCK_CHECK_EVERY_MS) return false;
    let best = null;
    for (let i = 0; i < CLOCK_TRIPS; i += 1) {
      const from_ms = monoMs();
      const { server_ms } = await ask("/time", { timeoutMs: 5000 }).catch(() => ({}));
      const round_trip_ms = monoMs() - from_ms;
      const t_ms = stamp().t_ms;
      if (typeof server_ms !== "number" || (best && round_trip_ms >= best.round_trip_ms)) continue;
      best = { t_ms, offset_ms: server_ms - (t_ms - round_trip_ms / 2), round_trip_ms };
    }
    if (!best) return false;
    compared_ms.set(session, monoMs());
    const id = newId();
    await store.addRecord({
      id, session, type: "clock_check", state: "unsent", doc: { id, device, ...best },
      stored_ms: best.t_ms, along_m: null,
    });
    return true;
  }

  return {
    send,
    /** @param {string} session why its set-up was not taken; empty when it was */
    setupProblem: (session) => refusedSetups.get(session)?.message ?? "",
    /** Offer again what was refused, and look again at what the server holds. */
    lookAgain() {
      for (const refused of refusedSetups.values()) refused.written = ""; // its message stands until then
      looked_ms.clear();
    },
  };
}

const notOurs = () => new ApiError("The answer did not come from Ebbline's server.", 0);

/** @param {Request} ask @param {string} id @param {number | null} base @param {object} setup */
async function put(ask, id, base, setup) {
  const answer = await ask(`/sessions/${id}`, { method: "PUT", body: { base, setup } });
  if (!Number.isInteger(answer?.revision)) throw notOurs();
  return answer;
}

/**
 * Whether the server holds less than it has confirmed: an older copy of it was put back.
 * @param {Held | null} confirmed @param {SessionRow} row before it was asked
 * @param {import("./types").Holds} holds
 */
function hasLost(confirmed, row, holds) {
  if (holds.revision < (row.revision ?? 0)) return true;
  const records = holds.events + holds.readings + holds.clock_checks;
  return confirmed !== null && (records < confirmed.records ||
    holds.fixes < confirmed.fixes || holds.photos < confirmed.photos);
}
