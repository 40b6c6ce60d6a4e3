// @ts-check
/**
 * The service worker: registers it, and tells when a newer version is ready. It takes over
 * only when the user says so on a page that is not recording.
 */

/**
 * @param {ServiceWorkerContainer | undefined} container
 * @param {{ onReady: (use: () => void) => void, onRefused: () => void, reload: () => void }} parts
 * @returns {Promise<void>}
 */
export async function watchVersions(container, { onReady, onRefused, reload }) {
  if (!container) return;
  const registration = await container.register("/sw.js", { scope: "/capture" });
  const look = () => (registration.waiting ?? registration.active)?.postMessage("newer?");
  container.addEventListener("message", ({ data, source }) => {
    const worker = /** @type {ServiceWorker} */ (source);
    if (data === "newer") onReady(() => worker.postMessage("use"));
    if (data === "in use") reload();
    if (data === "recording") onRefused();
  });
  registration.addEventListener("updatefound", () => {
    registration.installing?.addEventListener("statechange", look);
  });
  look();
}
