// @ts-check
/** A session as a file, from what this phone holds: it leaves the phone with no server at all. */
import { joinChunks } from "./batches.js";

/**
 * @param {import("./store.js").Store} store
 * @param {string} sessionId
 * @param {string} device
 * @returns {Promise<Record<string, any>>} the session file's document
 */
export async function sessionDocument(store, sessionId, device) {
  const row = await store.session(sessionId);
  if (!row) throw new Error(`No session ${sessionId} on this phone.`);
  const records = await store.records(sessionId);
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
  return {
    format: "ebbline-session", version: 1,
    ...row.setup, devices,
    breadcrumbs: joinChunks(await store.chunks(sessionId)).map((entry) => entry.columns),
    events: docs("event"), readings: docs("reading"), photos: [],
  };
}

/** @param {Record<string, any>} setup @returns {string} */
export function fileName(setup) {
  const title = String(setup.session?.title ?? "session").replace(/[^\p{L}\p{N}]+/gu, "-");
  return `${title.replace(/^-|-$/g, "").toLowerCase() || "session"}.ebbline.json`;
}

/**
 * Share where the phone can, else download.
 * @param {Record<string, any>} document_ @param {string} name
 * @param {{ navigator: Navigator, document: Document }} browser
 * @returns {Promise<"shared" | "downloaded" | "cancelled">}
 */
export async function handOver(document_, name, { navigator, document }) {
  const text = JSON.stringify(document_);
  const file = new File([text], name, { type: "application/json" });
  if (navigator.canShare?.({ files: [file] })) {
    try {
      await navigator.share({ files: [file], title: name });
      return "shared";
    } catch (error) {
      if (error instanceof DOMException && error.name === "AbortError") return "cancelled";
      // sharing may be refused for this type: fall through to a download
    }
  }
  const link = document.createElement("a");
  link.href = URL.createObjectURL(file);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  return "downloaded";
}
