// @ts-check
/** The one way to the server's documented API (`/api/openapi.json`). */

/** A refusal by the server, or an answer that is not from our server at all. */
export class ApiError extends Error {
  /**
   * @param {string} message what went wrong, in words for the user
   * @param {number} status HTTP status; 0 when there was no usable answer
   * @param {unknown} [body] the parsed answer, when there was one
   */
  constructor(message, status, body) {
    super(message);
    this.name = "ApiError";
    this.status = status;
    this.body = body;
  }
}

/**
 * @typedef {object} RequestOptions
 * @property {string} [method]
 * @property {unknown} [body] sent as JSON
 * @property {ArrayBuffer} [bytes] sent as they are, instead of a body
 * @property {string} [type] media type of the bytes
 * @property {string} [token] what lets a phone add to its one session
 * @property {number} [timeoutMs]
 */

/**
 * One request. Resolves to the parsed answer; rejects with {@link ApiError}.
 * An answer that is not JSON (a captive portal's page, a proxy's error) is never taken for ours.
 * @param {string} path below /api, starting with a slash
 * @param {RequestOptions} [options]
 * @returns {Promise<any>}
 */
export async function request(path, { method = "GET", body, bytes, type, token, timeoutMs = 15000 } = {}) {
  /** @type {Record<string, string>} */
  const headers = {};
  if (body !== undefined) headers["Content-Type"] = "application/json";
  if (bytes && type) headers["Content-Type"] = type;
  if (token) headers.Authorization = `Bearer ${token}`;
  let response;
  try {
    response = await fetch(`/api${path}`, {
      method,
      headers,
      body: bytes ?? (body === undefined ? undefined : JSON.stringify(body)),
      cache: "no-store",
      redirect: "error",
      signal: AbortSignal.timeout(timeoutMs),
    });
  } catch (error) {
    throw new ApiError("The server can't be reached.", 0, error);
  }
  if (!(response.headers.get("Content-Type") ?? "").includes("json")) {
    throw new ApiError("The answer did not come from Ebbline's server.", 0);
  }
  const answer = await response.json();
  if (!response.ok) {
    throw new ApiError(answer.message ?? response.statusText, response.status, answer);
  }
  return answer;
}

/** @typedef {typeof request} Request */
