// @ts-check
/**
 * Brings what the phone holds to the server, as soon as there is one: the records and the track
 * of every session, and beside them the pictures, in a queue of their own.
 */
import { ApiError } from "../../shared/api.js";
import { backOff_ms, createPacer } from "./pacing.js";
import { createSender } from "./sending.js";

/** @typedef {import("../storage/rows").SessionRow} SessionRow */
/** @typedef {import("../storage/rows").PhotoRow} PhotoRow */
/** @typedef {import("./types").OutboxState} OutboxState */

const REGULAR_MS = 15000;
const AFTER_TAP_MS = 800;
const AFTER_TRACK_MS = 4000;
/** During a run somebody may be following: what waits is there within 10 s of the network's return. */
const LONGEST_WAIT_IN_RUN_MS = 4000;
const KNOCK_MS = 3000;
const PHOTO_REGULAR_MS = 60000;
const PHOTO_SOON_MS = 500;
const LONGEST_UPLOAD_MS = 120000;
/** The picture itself is to blame; anything else may pass. */
const NOT_TAKEN = [400, 409, 413, 415, 422];

/** @param {import("./types").SendingParts} parts */
export function createOutbox(parts) {
  const { store, request, stamp, monoMs, random, exclusive, onChange } = parts;
  const sender = createSender(parts);
  const photos = createPhotoOutbox(parts);
  const pacer = createPacer({
    work: async (failures) => void await exclusive("ebbline-outbox", () => sendAll(failures)),
    regular_ms: REGULAR_MS, longest_ms: () => inRun ? LONGEST_WAIT_IN_RUN_MS : undefined, again_ms: AFTER_TAP_MS, monoMs, random, onChange,
  });
  /** @type {Map<string, { message: string, status: number, times: number, until_ms: number }>} */
  const refusals = new Map();
  /** @type {number | null} */
  let synced_ms = null;
  let inRun = false;

  /** @param {number} failures before, in a row */
  async function sendAll(failures) {
    let asked = failures > 0;
    const running = await store.meta("running");
    inRun = Boolean(running);
    // what is being recorded first, whatever the clock says of the others' age
    const rows = (await store.sessions()).sort((a, b) => Number(b.id === running) - Number(a.id === running));
    // a line that swallows everything would keep a whole upload waiting for half a minute
    if (asked) await isThere(rows, KNOCK_MS);
    for (const [i, row] of rows.entries()) {
      const before = refusals.get(row.id);
      if (before && monoMs() < before.until_ms) continue;
      try {
        asked = (await sender.send(row, i === 0)) || asked;
        refusals.delete(row.id);
      } catch (error) {
        // what the server says of one session must not hold up the others
        if (!(error instanceof ApiError) || error.status === 0) throw error;
        asked = true;
        const times = (before?.times ?? 0) + 1;
        refusals.set(row.id, {
          message: error.message, status: error.status, times,
          until_ms: monoMs() + backOff_ms(times, random()),
        });
      }
    }
    if (!asked) await isThere(rows);
    if (running ? !refusals.has(running) : !refusals.size) synced_ms = stamp().t_ms;
    photos.soon();
  }

  /**
   * So that 'synced' is never said of a dead line.
   * @param {SessionRow[]} rows @param {number} [timeoutMs]
   */
  async function isThere(rows, timeoutMs) {
    try {
      await request("/time", { token: rows.find((row) => row.token)?.token, timeoutMs });
    } catch (error) {
      if (!(error instanceof ApiError) || error.status === 0) throw error;
    }
  }

  return {
    /** @param {string} [session] the one that is shown @returns {OutboxState} */
    state(session) {
      const refusal = session === undefined ? undefined : refusals.get(session);
      const setup = session === undefined ? "" : sender.setupProblem(session);
      const picture = session === undefined ? "" : photos.problem(session);
      return {
        problem: pacer.problem() || refusal?.message || picture || (setup && `The plan was not taken: ${setup}`),
        shut: refusal?.status === 401 || refusal?.status === 403,
        synced_ms,
      };
    },
    /** Now: at start, when the network or the page comes back, when the user asks. */
    hurry() {
      refusals.clear();
      sender.lookAgain();
      pacer.hurry();
      photos.hurry();
    },
    /** Within seconds: after a piece of track. */
    eventually: () => pacer.within(AFTER_TRACK_MS),
    /** Soon: after a tap or a picture; a failing line is not hammered. */
    soon() {
      pacer.within(AFTER_TAP_MS);
      photos.soon();
    },
  };
}

/** @typedef {ReturnType<typeof createOutbox>} Outbox */

/**
 * Pictures and spoken notes go one at a time and beside everything else: hundreds of them on a slow line hold up no
 * tap. One stops being sent only when the server names its hash as held.
 * @param {import("./types").SendingParts} parts
 */
function createPhotoOutbox({ store, request, monoMs, random, exclusive, onChange }) {
  /** @type {Map<string, string>} by session: why its pictures wait, such as a full disk */
  const waiting = new Map();
  const pacer = createPacer({
    work: async () => void await exclusive("ebbline-photos", sendAll),
    regular_ms: PHOTO_REGULAR_MS, again_ms: PHOTO_SOON_MS, monoMs, random, onChange,
  });

  async function sendAll() {
    for (const row of await store.sessions()) {
      if (row.revision === null) continue; // the server has to know the session first
      try {
        for (let photo = await next(row); photo; photo = await next(row)) {
          await send(row, photo);
          waiting.delete(row.id);
          onChange();
        }
      } catch (error) {
        // what the server says of one session must not hold up the others
        if (!(error instanceof ApiError) || error.status === 0) throw error;
        waiting.set(row.id, error.message);
        onChange();
      }
    }
  }

  /** @param {SessionRow} row */
  const next = (row) => store.unsentPhoto(row.id);

  /** @param {SessionRow} row @param {PhotoRow} photo */
  async function send(row, photo) {
    const { sha256, t_ms, device, event, media_type } = photo;
    const bytes = await store.photoBytes(row.id, sha256);
    if (!bytes) {
      await store.settlePhoto(row.id, sha256, { state: "refused", problem: "Its file is missing on this phone." });
      return;
    }
    const about = new URLSearchParams({ t_ms: String(t_ms), device, event: event ?? "" });
    try {
      const answer = await request(`/sessions/${row.id}/photos?${about}`, {
        method: "POST", bytes, type: media_type, token: row.token, timeoutMs: LONGEST_UPLOAD_MS,
      });
      if (answer?.held?.sha256 !== sha256) {
        throw new ApiError("The answer did not come from Ebbline's server.", 0);
      }
      await store.settlePhoto(row.id, sha256, { state: "held" });
    } catch (error) {
      if (!(error instanceof ApiError) || !NOT_TAKEN.includes(error.status)) throw error;
      await store.settlePhoto(row.id, sha256, { state: "refused", problem: error.message });
    }
  }

  return {
    /** @param {string} session */
    problem: (session) => waiting.get(session) ?? "",
    soon: () => pacer.within(PHOTO_SOON_MS),
    hurry: () => pacer.hurry(),
  };
}
