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
 * One request. Resolves to the parsed answer; rejects with {@link ApiError}.
 * An answer that is not JSON (a captive portal's page, a proxy's error) is never taken for ours.
 * @param {string} path below /api, starting with a slash
 * @param {{ method?: string, body?: unknown, timeoutMs?: number }} [options]
 * @returns {Promise<any>}
 */
export async function request(path, { method = "GET", body, timeoutMs = 15000 } = {}) {
  let response;
  try {
    response = await fetch(`/api${path}`, {
      method,
      headers: body === undefined ? {} : { "Content-Type": "application/json" },
      body: body === undefined ? undefined : JSON.stringify(body),
      cache: "no-store",
      redirect: "error",
      signal: AbortSignal.timeout(timeoutMs),
    });
  } catch (error) {
    throw new ApiError("The server can't be reached.", 0, error);
  }
  const type = response.headers.get("Content-Type") ?? "";
  if (!type.includes("json")) {
    throw new ApiError("The answer did not come from Ebbline's server.", 0);
  }
  const answer = await response.json();
  if (!response.ok) {
    throw new ApiError(answer.message ?? response.statusText, response.status, answer);
  }
  return answer;
}
