// @ts-check
/**
 * Sends pictures, one at a time and beside everything else: hundreds of them on a slow line hold
 * up no tap. A picture stops being sent only when the server names its hash as held.
 */
import { ApiError } from "../shared/api.js";
import { createPacer } from "./pacing.js";

/** @typedef {import("./store.js").SessionRow} SessionRow */
/** @typedef {import("./store-photos.js").PhotoRow} PhotoRow */

const REGULAR_MS = 60000;
const SOON_MS = 500;
const LONGEST_UPLOAD_MS = 120000;
/** The picture itself is to blame; anything else may pass. */
const NOT_TAKEN = [400, 409, 413, 415, 422];

/** @param {import("./recording").SendingParts} parts */
export function createPhotoOutbox({ store, request, monoMs, random, exclusive, onChange }) {
  const pacer = createPacer({
    work: async () => void await exclusive("ebbline-photos", sendAll),
    regular_ms: REGULAR_MS, again_ms: SOON_MS, monoMs, random, onChange,
  });

  async function sendAll() {
    for (const row of await store.sessions()) {
      if (row.revision === null) continue; // the server has to know the session first
      try {
        for (let photo = await next(row); photo; photo = await next(row)) {
          await send(row, photo);
          onChange();
        }
      } catch (error) {
        // what the server says of one session must not hold up the others
        if (!(error instanceof ApiError) || error.status === 0) throw error;
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
      await store.settlePhoto(row.id, sha256, { state: "refused", problem: "Its bytes are gone." });
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
    soon: () => pacer.within(SOON_MS),
    hurry: () => pacer.hurry(),
  };
}
