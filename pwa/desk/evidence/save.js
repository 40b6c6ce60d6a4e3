// @ts-check
/** Sending what was typed at the desk: new records only, never an edit. */
import { ApiError, request } from "../../shared/api.js";
import { writer } from "./writer.js";

/** @typedef {import("../session/documents").RawEvent} RawEvent */
/** @typedef {import("../session/documents").RawReading} RawReading */
/** @typedef {{ id: string, yours: RawEvent & RawReading, held: RawEvent & RawReading }} Conflict */
/** @typedef {{ events?: object[], readings?: object[] }} Batch  records, whole */

/** Somebody else corrected the same record first; nothing was stored. */
export class SaveConflict extends Error {
  /** @param {Conflict[]} conflicts */
  constructor(conflicts) {
    super("Somebody else has changed this meanwhile.");
    this.name = "SaveConflict";
    this.conflicts = conflicts;
  }
}

/**
 * Makes records of what was typed: with an id, who wrote it and when. Trying the same content
 * again is the same record and not a second one; changed content becomes a record of its own.
 * @returns {<T extends object>(content: T) => T & { id: string, by: string, written_at: string }}
 */
export function recordMaker() {
  /** @type {Map<string, { id: string, by: string, written_at: string }>} */
  const made = new Map();
  return (content) => {
    const text = JSON.stringify(content);
    const marks = made.get(text) ?? { id: crypto.randomUUID(), by: writer(), written_at: new Date().toISOString() };
    made.set(text, marks);
    return { ...content, ...marks };
  };
}

/**
 * @param {string} sessionId
 * @param {Batch} batch
 * @returns {Promise<void>} resolves once the server holds all of it
 * @throws {SaveConflict} when one of them corrects what somebody else has corrected meanwhile
 * @throws {ApiError} with the server's words when it does not hold all of it
 */
export async function save(sessionId, batch) {
  let answer;
  try {
    answer = await request(`/sessions/${encodeURIComponent(sessionId)}/records`, {
      method: "POST", body: { device: "desk", sole: true, ...batch },
    });
  } catch (error) {
    const conflicts = error instanceof ApiError && error.status === 409
      ? /** @type {{ conflicts?: Conflict[] } | undefined} */ (error.body)?.conflicts : undefined;
    if (conflicts?.length) throw new SaveConflict(conflicts);
    throw error;
  }
  const refusal = answer.refused?.[0];
  if (refusal) throw new ApiError(`${refusal.where}: ${refusal.problem}`, 200, answer);
  for (const sort of /** @type {const} */ (["events", "readings"])) {
    const held = new Set(answer.held?.[sort] ?? []);
    if ((batch[sort] ?? []).some((record) => !held.has(/** @type {{ id: string }} */ (record).id))) {
      throw new ApiError("The server did not confirm that it holds the record. Please try again.", 200, answer);
    }
  }
}
