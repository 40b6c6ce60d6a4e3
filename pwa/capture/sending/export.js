// @ts-check
/** A session as a file, from what this phone holds: it leaves the phone with no server at all. */
import { FIX_COLUMNS } from "../storage/store.js";
import { joinChunks } from "./batches.js";
import { startZip } from "./zip.js";

/** @typedef {import("../storage/rows").ChunkRow} ChunkRow */
/** @typedef {import("../storage/rows").RecordRow} RecordRow */
/** @typedef {import("../storage/rows").Fix} Fix */
/** @typedef {{ records: readonly RecordRow[], fixes: readonly Fix[] }} InMemory  not stored (yet) */

const ENDINGS = { "image/jpeg": "jpg", "image/png": "png", "image/webp": "webp", "image/heic": "heic",
  "audio/webm": "webm", "audio/mp4": "m4a" };

/**
 * JSON, or a ZIP with the pictures where there are some.
 * @param {import("../storage/keeping").Store} store
 * @param {string} sessionId
 * @param {string} device
 * @param {InMemory} [inMemory] of the page that records this session
 * @returns {Promise<File>}
 */
export async function sessionFile(store, sessionId, device, inMemory) {
  const content = await sessionDocument(store, sessionId, device, inMemory);
  const text = JSON.stringify(content);
  const name = fileName(content);
  const photos = await store.photos(sessionId);
  if (!photos.length) return new File([text], `${name}.json`, { type: "application/json" });
  const zip = startZip();
  zip.add("session.json", new TextEncoder().encode(text));
  for (const { sha256, media_type } of photos) {
    const bytes = await store.photoBytes(sessionId, sha256);
    const ending = ENDINGS[/** @type {keyof typeof ENDINGS} */ (media_type)] ?? "bin";
    if (bytes) zip.add(`photos/${sha256}.${ending}`, new Uint8Array(bytes));
  }
  return new File([zip.finish()], `${name}.zip`, { type: "application/zip" });
}

/**
 * @param {import("../storage/keeping").Store} store
 * @param {string} sessionId
 * @param {string} device
 * @param {InMemory} [inMemory]
 * @returns {Promise<Record<string, any>>} the session file's document
 */
async function sessionDocument(store, sessionId, device, inMemory = { records: [], fixes: [] }) {
  const row = await store.session(sessionId);
  if (!row) throw new Error(`No session ${sessionId} on this phone.`);
  const stored = await store.records(sessionId);
  const known = new Set(stored.map((one) => one.id));
  const records = [...stored, ...inMemory.records.filter((one) => !known.has(one.id))];
  /** @param {string} type */
  const docs = (type) =>
    records.filter((one) => one.type === type).map((one) => one.doc).sort((a, b) => a.t_ms - b.t_ms);
  const check = docs("clock_check").sort((a, b) => a.round_trip_ms - b.round_trip_ms)[0];
  const devices = (row.setup.devices ?? []).map((/** @type {any} */ one) =>
    one.id !== device || !check || one.clock_offset_ms !== undefined ? one : {
      ...one,
      clock_offset_ms: check.offset_ms,
      clock_offset_sd_ms: check.round_trip_ms / 2 / Math.sqrt(3), // even over the round trip
    });
  const chunks = await store.chunks(sessionId);
  return {
    format: "ebbline-session", version: 1,
    ...row.setup, devices,
    breadcrumbs: joinChunks([...chunks, ...asChunks(inMemory.fixes, chunks.at(-1), device)])
      .map((entry) => entry.columns),
    events: docs("event"), readings: docs("reading"),
    photos: (await store.photos(sessionId)).map(({ sha256, t_ms, device: by, media_type, event }) =>
      ({ sha256, t_ms, device: by, media_type, event })),
  };
}

/**
 * Fixes in memory as the chunks they would have been stored as, one each.
 * @param {readonly Fix[]} fixes @param {ChunkRow | undefined} before @param {string} device
 * @returns {ChunkRow[]}
 */
function asChunks(fixes, before, device) {
  const from = before ? before.last + 1 : 0;
  return fixes.map((fix, i) => ({
    session: "", device, first: from + i, last: from + i, state: "unsent", along_m: 0,
    columns: {
      seq: [from + i], ...Object.fromEntries(FIX_COLUMNS.map((name) => [name, [fix[name]]])),
    },
  }));
}

/** @param {Record<string, any>} setup @returns {string} without the last part of its ending */
function fileName(setup) {
  const title = String(setup.session?.title ?? "session").replace(/[^\p{L}\p{N}]+/gu, "-");
  return `${title.replace(/^-|-$/g, "").toLowerCase() || "session"}.ebbline`;
}

/**
 * Share where the phone can, else download.
 * @param {File} file
 * @param {{ navigator: Navigator, document: Document }} browser
 * @returns {Promise<"shared" | "downloaded" | "cancelled">}
 */
export async function handOver(file, { navigator, document }) {
  if (navigator.canShare?.({ files: [file] })) {
    try {
      await navigator.share({ files: [file], title: file.name });
      return "shared";
    } catch (error) {
      if (error instanceof DOMException && error.name === "AbortError") return "cancelled";
      // sharing may be refused for this type: fall through to a download
    }
  }
  const link = document.createElement("a");
  link.href = URL.createObjectURL(file);
  link.download = file.name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  return "downloaded";
}
