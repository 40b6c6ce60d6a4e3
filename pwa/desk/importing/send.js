// @ts-check
/** Sending a file with its progress. */

/** @typedef {import("./documents").Answer} Answer */

/**
 * @param {string} path below /api
 * @param {Blob} file
 * @param {string} type media type
 * @param {(share: number) => void} onProgress 0 to 1 of the bytes sent
 * @returns {Promise<Answer>} status 0 when there was no usable answer
 */
export function send(path, file, type, onProgress) {
  return new Promise((resolve) => {
    const sending = new XMLHttpRequest(); // fetch has no progress of what it sends
    sending.open("POST", `/api${path}`);
    sending.setRequestHeader("Content-Type", type);
    sending.upload.addEventListener("progress", (event) => event.lengthComputable && onProgress(event.loaded / event.total));
    sending.addEventListener("load", () => {
      let body = null;
      try {
        body = JSON.parse(sending.responseText);
      } catch {
        // a proxy's page, not our answer
      }
      resolve({ status: body ? sending.status : 0, body });
    });
    sending.addEventListener("error", () => resolve({ status: 0, body: null }));
    sending.send(file);
  });
}

/** @param {Answer} answer */
export const succeeded = ({ status }) => status === 200 || status === 201;

/**
 * @param {Answer} answer a refusal
 * @returns {string}
 */
export function reasonOf({ status, body }) {
  if (status === 0) return "The server can\u2019t be reached, or something else answered in its place.";
  return String(body?.message ?? "The server refused it without a reason.");
}
