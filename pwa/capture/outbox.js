// @ts-check
/**
 * Brings what the phone holds to the server. A record stops being sent only when the server's
 * answer names it as held; whatever else happens (no answer, half an answer, a portal's page)
 * it is sent again, and the server knows it by its id.
 */
import { ApiError } from "../shared/api.js";

/** @typedef {import("./store.js").ChunkRow} ChunkRow */
/** @typedef {import("./store.js").RecordRow} RecordRow */
/** @typedef {import("./store.js").SessionRow} SessionRow */
/** @typedef {(path: string, options?: { method?: string, body?: unknown, timeoutMs?: number }) => Promise<any>} Request */
/**
 * @typedef {object} OutboxState
 * @property {"idle" | "sending" | "waiting"} doing waiting: for the next try after a failure
 * @property {string} problem why the last try failed; empty after a success
 * @property {number | null} synced_ms when everything was last known to be on the server
 */

const MOST_RECORDS = 200;
const MOST_CHUNKS = 400;
const FIRST_WAIT_MS = 2000;
const LONGEST_WAIT_MS = 60000;
const REGULAR_MS = 15000;
const AFTER_TAP_MS = 800;
const AFTER_TRACK_MS = 4000;
const CLOCK_CHECK_EVERY_MS = 120000;

/**
 * @param {object} parts
 * @param {import("./store.js").Store} parts.store
 * @param {Request} parts.request
 * @param {string} parts.device
 * @param {() => import("./clock.js").Stamp} parts.stamp
 * @param {() => number} parts.monoMs
 * @param {() => string} parts.newId
 * @param {() => number} parts.random in [0, 1)
 * @param {<T>(name: string, work: () => Promise<T>) => Promise<T | undefined>} parts.exclusive
 *   runs the work unless another tab is at it
 * @param {() => void} parts.onChange
 */
export function createOutbox(parts) {
  const { store, request, device, stamp, monoMs, newId, random, exclusive, onChange } = parts;
  let timer = /** @type {ReturnType<typeof setTimeout> | undefined} */ (undefined);
  let due_ms = Infinity;
  let failures = 0;
  let running = false;
  let again = false;
  let checked_ms = -Infinity;
  /** @type {OutboxState} */
  const state = { doing: "idle", problem: "", synced_ms: null };

  /** @param {number} wait_ms */
  function plan(wait_ms) {
    const at = monoMs() + wait_ms;
    if (at >= due_ms) return;
    due_ms = at;
    clearTimeout(timer);
    timer = setTimeout(() => void sync(), wait_ms);
  }

  async function sync() {
    if (running) {
      again = true;
      return;
    }
    running = true;
    clearTimeout(timer);
    due_ms = Infinity;
    state.doing = "sending";
    onChange();
    try {
      await exclusive("ebbline-outbox", sendAll);
      failures = 0;
      state.problem = "";
      state.doing = "idle";
    } catch (error) {
      failures += 1;
      state.problem = error instanceof Error ? error.message : String(error);
      state.doing = "waiting";
    }
    running = false;
    const wait_ms = failures
      ? Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** (failures - 1)) * (0.5 + random() / 2)
      : again ? AFTER_TAP_MS : REGULAR_MS;
    again = false;
    plan(wait_ms);
    onChange();
  }

  async function sendAll() {
    let sent = false;
    /** @type {ApiError | null} */
    let refusal = null;
    for (const row of await store.sessions()) {
      try {
        sent = (await sendSession(row)) || sent;
      } catch (error) {
        // what the server refuses of one session must not hold up the others
        if (!(error instanceof ApiError) || error.status === 0) throw error;
        refusal = error;
      }
    }
    if (refusal) throw refusal;
    if (!sent) await request("/time"); // so that 'synced' is never said of a dead line
    state.synced_ms = stamp().t_ms;
  }

  /** @param {SessionRow} row @returns {Promise<boolean>} whether there was anything to send */
  async function sendSession(row) {
    const unsent = await store.counts(row.id);
    if (!row.setup_unsent && !unsent.records && !unsent.chunks) return false;
    try {
      if (row.setup_unsent || row.revision === null) await sendSetup(row);
      await checkClock(row.id);
      for (;;) {
        const records = await store.recordsIn(row.id, MOST_RECORDS);
        const chunks = await store.unsentChunks(row.id, MOST_CHUNKS);
        if (!records.length && !chunks.length) return true;
        if (!(await sendBatch(row, records, chunks))) {
          throw new ApiError("The server did not confirm everything; trying again.", 200);
        }
        onChange();
      }
    } catch (error) {
      // a server that doesn't know the session (a new one, or set up anew) gets all of it
      if (error instanceof ApiError && error.status === 404) await store.startOver(row.id);
      throw error;
    }
  }

  /** @param {SessionRow} row */
  async function sendSetup(row) {
    const path = `/sessions/${row.id}`;
    let { setup, revision } = row;
    for (let attempt = 0; ; attempt += 1) {
      try {
        const answer = await request(path, { method: "PUT", body: { base: revision, setup } });
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

  /** Round trips to the server's clock; the shortest says most. @param {string} session */
  async function checkClock(session) {
    if (monoMs() - checked_ms < CLOCK_CHECK_EVERY_MS) return;
    let best = null;
    for (let i = 0; i < 3; i += 1) {
      const from_ms = monoMs();
      const { server_ms } = await request("/time");
      const round_trip_ms = monoMs() - from_ms;
      const t_ms = stamp().t_ms;
      if (typeof server_ms !== "number") throw new ApiError("The server's clock gave no time.", 0);
      if (!best || round_trip_ms < best.round_trip_ms) {
        best = { t_ms, offset_ms: server_ms - (t_ms - round_trip_ms / 2), round_trip_ms };
      }
    }
    checked_ms = monoMs();
    if (!best) return;
    const id = newId();
    await store.addRecord({
      id, session, type: "clock_check", state: "unsent", doc: { id, device, ...best },
      stored_ms: best.t_ms, along_m: null,
    });
  }

  /**
   * @param {SessionRow} row @param {RecordRow[]} records @param {ChunkRow[]} chunks
   * @returns {Promise<boolean>} whether anything moved on
   */
  async function sendBatch(row, records, chunks) {
    const entries = joinChunks(chunks);
    /** @param {RecordRow["type"]} type */
    const docs = (type) => records.filter((one) => one.type === type).map((one) => one.doc);
    const body = {
      device, events: docs("event"), readings: docs("reading"), clock_checks: docs("clock_check"),
      breadcrumbs: entries.map((entry) => entry.columns),
    };
    const { held, refused } = await request(
      `/sessions/${row.id}/records`, { method: "POST", body, timeoutMs: 30000 });
    if (!held || !Array.isArray(refused)) {
      throw new ApiError("The answer did not come from Ebbline's server.", 0);
    }
    const known = new Set(records.map((one) => one.id));
    const heldIds = [held.events, held.readings, held.clock_checks].flat().filter((id) => known.has(id));
    const bad = refused.filter((/** @type {any} */ one) => known.has(one.id));
    await store.settleRecords(heldIds, bad);

    /** @type {{ first: number, change: Partial<ChunkRow> }[]} */
    const changes = [];
    for (const chunk of chunks) {
      const ranges = (held.breadcrumbs ?? [])
        .filter((/** @type {any} */ one) => one.device === chunk.device)
        .flatMap((/** @type {any} */ one) => one.ranges);
      if (ranges.some((/** @type {[number, number]} */ [first, last]) => first <= chunk.first && chunk.last <= last)) {
        changes.push({ first: chunk.first, change: { state: "held" } });
      }
    }
    for (const one of refused) {
      const index = /^breadcrumbs\[(\d+)\]/.exec(one.where ?? "")?.[1];
      const entry = one.kind === "breadcrumbs" && index !== undefined ? entries[Number(index)] : null;
      for (const chunk of entry?.chunks ?? []) {
        if (changes.some((done) => done.first === chunk.first)) continue;
        // a bad fix must not take its neighbours down: in company first, then alone
        changes.push({
          first: chunk.first,
          change: chunk.alone ? { state: "refused", problem: one.problem } : { alone: true },
        });
      }
    }
    await store.settleChunks(row.id, changes);
    return heldIds.length + bad.length + changes.length > 0;
  }

  return {
    /** @returns {Readonly<OutboxState>} */
    state: () => state,
    /** Now: at start, when the network or the page comes back, when the user asks. */
    hurry() {
      failures = 0;
      due_ms = Infinity;
      void sync();
    },
    /** Within seconds: after a piece of track. */
    eventually() {
      if (!running && !failures) plan(AFTER_TRACK_MS);
    },
    /** Soon: after a tap; a failing line is not hammered. */
    soon() {
      if (running) again = true;
      else if (!failures) plan(AFTER_TAP_MS);
    },
  };
}

/** @typedef {ReturnType<typeof createOutbox>} Outbox */

/**
 * Neighbouring chunks as one entry of columns; a clock set back or a lone chunk starts another.
 * @param {ChunkRow[]} chunks in order of seq
 * @returns {{ columns: Record<string, any>, chunks: ChunkRow[] }[]}
 */
export function joinChunks(chunks) {
  /** @type {{ columns: Record<string, any>, chunks: ChunkRow[] }[]} */
  const entries = [];
  for (const chunk of chunks) {
    const entry = entries.at(-1);
    const before = entry?.chunks.at(-1);
    const follows =
      entry && before && before.last + 1 === chunk.first && before.device === chunk.device &&
      !before.alone && !chunk.alone && chunk.columns.t_ms?.[0] >= entry.columns.t_ms.at(-1);
    if (follows) {
      for (const [name, column] of Object.entries(chunk.columns)) entry.columns[name].push(...column);
      entry.chunks.push(chunk);
    } else {
      /** @type {Record<string, any>} */
      const columns = { device: chunk.device };
      for (const [name, column] of Object.entries(chunk.columns)) columns[name] = [...column];
      entries.push({ columns, chunks: [chunk] });
    }
  }
  return entries;
}

/**
 * Three-way merge of set-ups: what changed here since `base` goes onto what the server holds.
 * Every revision stays on the server, so nothing is lost where both changed the same field.
 * @param {any} base @param {any} ours @param {any} theirs @returns {any}
 */
export function merge(base, ours, theirs) {
  const plain = (/** @type {any} */ x) => x !== null && typeof x === "object" && !Array.isArray(x);
  if (Array.isArray(ours) && Array.isArray(theirs) && [...ours, ...theirs].some((x) => x?.id)) {
    return mergeNamed(Array.isArray(base) ? base : [], ours, theirs);
  }
  if (!plain(ours) || !plain(theirs)) return JSON.stringify(ours) === JSON.stringify(base) ? theirs : ours;
  const merged = { ...theirs };
  for (const key of Object.keys(ours)) {
    merged[key] = key in theirs ? merge(base?.[key], ours[key], theirs[key]) : ours[key];
  }
  return merged;
}

/**
 * Lists whose items have an id, within their device where they name one (ticks of a checklist).
 * @param {any[]} base @param {any[]} ours @param {any[]} theirs @returns {any[]}
 */
function mergeNamed(base, ours, theirs) {
  const name = (/** @type {any} */ x) => JSON.stringify([x?.device ?? null, x?.id ?? null]);
  const named = (/** @type {any[]} */ list) => new Map(list.map((x) => [name(x), x]));
  const [was, mine, held] = [named(base), named(ours), named(theirs)];
  const kept = theirs
    .filter((x) => mine.has(name(x)) || !was.has(name(x))) // else taken off here
    .map((x) => (mine.has(name(x)) ? merge(was.get(name(x)), mine.get(name(x)), x) : x));
  return [...kept, ...ours.filter((x) => !held.has(name(x)))];
}
