// @ts-check
/** Sending what was typed at the desk: new records only, never an edit. */
import { ApiError, request } from "../../shared/api.js";

/**
 * Remembers the id of what was last tried, so that trying the same again is the same record and
 * not a second one; changed content gets an id of its own.
 * @returns {(content: object) => string}
 */
export function stableIds() {
  let lastContent = "";
  let lastId = "";
  return (content) => {
    const text = JSON.stringify(content);
    if (text !== lastContent) {
      lastContent = text;
      lastId = crypto.randomUUID();
    }
    return lastId;
  };
}

/**
 * @param {string} sessionId
 * @param {"events" | "readings"} sort
 * @param {{ id: string }} record
 * @returns {Promise<void>} resolves once the server holds it
 * @throws {ApiError} with the server's words when it does not
 */
export async function save(sessionId, sort, record) {
  const answer = await request(`/sessions/${encodeURIComponent(sessionId)}/records`, {
    method: "POST", body: { device: "desk", [sort]: [record] },
  });
  const refusal = answer.refused?.[0];
  if (refusal) throw new ApiError(`${refusal.where}: ${refusal.problem}`, 200, answer);
  if (!answer.held?.[sort]?.includes(record.id)) {
    throw new ApiError("The server did not confirm that it holds the record. Please try again.", 200, answer);
  }
}
