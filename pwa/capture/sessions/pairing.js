// @ts-check
/**
 * Getting into a session by a code shown at the desk. The code's address carries a token that
 * lets this phone add to that one session; it is kept with the session and sent with its requests.
 */
import { ApiError } from "../../shared/api.js";
import { merge } from "../setup/merge.js";
import { withDevice } from "../setup/setup.js";

/** @typedef {{ id: string } | { problem: string }} Joined */

const ADVICE = "Ask the desk for a new code. What this phone has recorded stays on it.";

/**
 * The token of an address, and out of the address with it: it must not stay in the history.
 * @param {Location} location @param {History} history
 * @returns {string | null}
 */
export function takeToken(location, history) {
  const token = tokenIn(location.hash);
  if (token !== null) history.replaceState(history.state, "", location.pathname + location.search);
  return token;
}

/** @param {string} text a link, the part after its #, or the token alone @returns {string | null} */
export function tokenIn(text) {
  const found = /(?:#|^)(?:join=)([^\s&#]+)\s*$/.exec(text.trim()) ?? /^([0-9a-f-]{36}\.[^\s#]+)$/i.exec(text.trim());
  return found?.[1] === undefined ? null : decodeURIComponent(found[1]);
}

/**
 * Keep a token with its session; without a network the session begins all the same, and its
 * set-up comes with the first contact.
 * @param {object} parts
 * @param {import("../storage/keeping").Store} parts.store
 * @param {import("../../shared/api.js").Request} parts.request
 * @param {string} parts.device
 * @param {string} token
 * @returns {Promise<Joined>}
 */
export async function join({ store, request, device }, token) {
  const id = /^([0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})\../i.exec(token)?.[1]?.toLowerCase();
  if (!id) return { problem: `This is not a code of Ebbline's. ${ADVICE}` };
  let answer = null;
  try {
    answer = await request("/join", { token, timeoutMs: 8000 });
  } catch (error) {
    if (error instanceof ApiError && [401, 403, 404].includes(error.status)) {
      return { problem: `${error.message} ${ADVICE}` };
    }
    // no server in reach: the token is tried when there is one
  }
  if (answer && (answer.session_id !== id || !answer.setup)) {
    return { problem: `The server took this code for another session. ${ADVICE}` };
  }
  const known = await store.session(id);
  if (!known) {
    const setup = answer?.setup ?? { session: { id, title: "Session by code" } };
    await store.addSession({
      id, setup: withDevice(setup, device), base_setup: setup, revision: answer?.revision ?? null,
      setup_unsent: 0, created_ms: Date.now(), accepted: false, token,
    });
  } else {
    await store.changeSession(id, (now) => !answer ? { ...now, token } : {
      ...now, token, revision: answer.revision, base_setup: answer.setup, setup_unsent: 0,
      setup: withDevice(merge(now.base_setup ?? {}, now.setup, answer.setup), device),
    });
  }
  return { id };
}
