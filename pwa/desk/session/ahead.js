// @ts-check
/** What a session's page needs from the server, asked for before the page itself is there. */
import { request } from "../../shared/api.js";

/** @typedef {import("./documents").SessionDocument} SessionDocument */
/** @typedef {import("./documents").ResultDocument} ResultDocument */
/** @typedef {import("./documents").CurvesDocument} CurvesDocument */
/**
 * @typedef {object} Ahead
 * @property {Promise<SessionDocument>} session
 * @property {Promise<ResultDocument>} result
 * @property {Promise<CurvesDocument>} curves of a long run only every nth point
 */

/** Enough for a first picture at once; the rest of a longer run follows behind it. */
export const FIRST_POINTS = 6000;

/**
 * @param {string} id session
 * @returns {Ahead} each fails with an ApiError
 */
export function askAhead(id) {
  const path = `/sessions/${encodeURIComponent(id)}`;
  const asked = {
    session: request(path),
    result: request(`${path}/result`, { timeoutMs: 120_000 }),
    curves: request(`${path}/curves?max_points=${FIRST_POINTS}`, { timeoutMs: 120_000 }),
  };
  for (const answer of Object.values(asked)) answer.catch(() => undefined); // told by whoever waits for it
  return asked;
}
