// @ts-check
/** Saving what takes the server a while, so that a refusal is read here and not lost in a download. */
import { ApiError } from "../../shared/api.js";
import { saveAs } from "./files.js";

/**
 * @param {string} address
 * @param {unknown} [body] sent as JSON, where what is saved is asked for by more than its address
 * @returns {Promise<void>} once the browser has the file
 * @throws {ApiError} with the server's words
 */
export async function saveFrom(address, body) {
  const sent = body === undefined ? {} : { method: "POST", body: JSON.stringify(body), headers: { "Content-Type": "application/json" } };
  const response = await fetch(address, { ...sent, cache: "no-store", redirect: "error" }).catch(() => {
    throw new ApiError("The server can\u2019t be reached.", 0);
  });
  if (!response.ok) {
    const body = await response.json().catch(() => null);
    throw new ApiError(body?.message ?? response.statusText, response.status, body);
  }
  const said = response.headers.get("Content-Disposition") ?? "";
  const whole = /filename\*=UTF-8''([^;]+)/.exec(said)?.[1];
  const name = whole === undefined ? /filename="([^"]+)"/.exec(said)?.[1] : decodeURIComponent(whole);
  saveAs(name ?? "", await response.blob());
}
