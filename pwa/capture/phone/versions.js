// @ts-check
/**
 * The service worker: registers it, and tells when a newer version is ready. It takes over
 * only when the user says so on a page that is not recording.
 */

/**
 * @param {ServiceWorkerContainer | undefined} container
 * @param {{ onReady: (use: () => void) => void, reload: () => void }} parts
 * @returns {Promise<void>}
 */
export async function watchVersions(container, { onReady, reload }) {
  if (!container) return;
  const registration = await container.register("/sw.js", { scope: "/capture" });
  /** @param {ServiceWorker} worker that has the newer version */
  const offer = (worker) => onReady(() => worker.postMessage("use"));
  const look = () => {
    const { waiting, active } = registration;
    if (waiting && active) offer(waiting);
    else active?.postMessage("newer?");
  };
  container.addEventListener("message", (event) => {
    if (event.data === "in use") reload();
    if (event.data === "newer" && registration.active) offer(registration.active);
  });
  registration.addEventListener("updatefound", () => {
    registration.installing?.addEventListener("statechange", look);
  });
  look();
}
