// @ts-check
/**
 * The part of the phone's memory that keeps pictures and spoken notes: what is known of each, and
 * its bytes apart.
 */
import { inState } from "./database.js";

/** @typedef {import("./rows").PhotoRow} PhotoRow */

/** What pictures leave free, so that a tap always finds room. */
const LEFT_FOR_TAPS_BYTES = 20e6;

/**
 * @param {import("./database.js").Database} database
 * @param {() => Promise<StorageEstimate>} estimate
 */
export function photoStore({ run, read }, estimate) {
  /** @type {import("./keeping").PhotoStore} */
  const photos = {
    async addPhoto({ session_id: session, event_id: event, t_ms, device, media_type, bytes }) {
      if (!bytes.byteLength) throw new TypeError("Nothing was taken: it is empty.");
      const { quota, usage } = await estimate();
      if (quota !== undefined && quota - (usage ?? 0) < bytes.byteLength + LEFT_FOR_TAPS_BYTES) {
        throw new DOMException("No room for photos and spoken notes: the rest is kept for taps.", "QuotaExceededError");
      }
      const sha256 = hex(await crypto.subtle.digest("SHA-256", bytes));
      return run(["photos", "photo_bytes"], "readwrite", (tx, give) => {
        const photos = tx.objectStore("photos");
        const request = photos.get([session, sha256]);
        request.onsuccess = () => {
          /** @type {PhotoRow} */
          const row = request.result ?? {
            session, sha256, event, t_ms, device, media_type,
            size_bytes: bytes.byteLength, state: "unsent",
          };
          give(row);
          if (request.result) return;
          photos.add(row);
          tx.objectStore("photo_bytes").put(bytes, [session, sha256]);
        };
      }, "strict");
    },
    async photos(session) {
      /** @type {PhotoRow[]} */
      const rows = await read("photos", (store) => store.index("session").getAll(session));
      return rows.sort((a, b) => a.t_ms - b.t_ms);
    },
    photoBytes: (session, sha256) => read("photo_bytes", (store) => store.get([session, sha256])),
    async unsentPhoto(session) {
      return await read("photos", (store) => store.index("state").get(inState(session, "unsent"))) ?? null;
    },
    settlePhoto: (session, sha256, change) =>
      run(["photos"], "readwrite", (tx) => {
        const store = tx.objectStore("photos");
        const request = store.get([session, sha256]);
        request.onsuccess = () => {
          if (request.result) store.put({ ...request.result, ...change });
        };
      }),
  };
  return photos;
}

/** @param {ArrayBuffer} digest */
const hex = (digest) =>
  Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, "0")).join("");
