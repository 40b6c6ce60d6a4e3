// @ts-check
/**
 * The service worker: registers it, and tells when a newer version lies ready. It takes over
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
  const offer = () => {
    const { waiting } = registration;
    if (!waiting || !registration.active) return;
    onReady(() => {
      container.addEventListener("message", (event) => {
        if (event.data === "in use") reload();
      });
      waiting.postMessage("use");
    });
  };
  registration.addEventListener("updatefound", () => {
    registration.installing?.addEventListener("statechange", offer);
  });
  offer();
}
