// @ts-check
/// <reference lib="webworker" />
/**
 * Serves the capture app from a cache that holds one whole version. A newer version is fetched
 * into a cache of its own and lies there: which version is served is written down, and changes
 * only when the user says yes on a page that is not recording. So neither a new worker nor a
 * restart of the browser ever swaps the app in the middle of a run.
 */
const worker = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));

/* Every file the capture app needs. A test checks that nothing is missing and that VERSION is the
   hash of their content. */
const FILES = [
  "/capture",
  "/capture/style.css",
  "/capture/early.js",
  "/capture/main.js",
  "/capture/batches.js",
  "/capture/camera.js",
  "/capture/checklist.js",
  "/capture/clock.js",
  "/capture/courses.js",
  "/capture/database.js",
  "/capture/dom.js",
  "/capture/entrance.js",
  "/capture/evidence.js",
  "/capture/export.js",
  "/capture/feedback.js",
  "/capture/glyphs.js",
  "/capture/gps.js",
  "/capture/keep-awake.js",
  "/capture/lap-check.js",
  "/capture/lap-run.js",
  "/capture/lap-verdict.js",
  "/capture/laps.js",
  "/capture/merge.js",
  "/capture/odometer.js",
  "/capture/outbox.js",
  "/capture/pacing.js",
  "/capture/pairing.js",
  "/capture/persistence.js",
  "/capture/phone-state.js",
  "/capture/photo-keeper.js",
  "/capture/prefs.js",
  "/capture/reading-advice.js",
  "/capture/reading-worth.js",
  "/capture/recorder.js",
  "/capture/run.js",
  "/capture/sending.js",
  "/capture/setup.js",
  "/capture/sheet.js",
  "/capture/speed-band.js",
  "/capture/store-photos.js",
  "/capture/store.js",
  "/capture/taps.js",
  "/capture/trip-meter.js",
  "/capture/versions.js",
  "/capture/view-advice.js",
  "/capture/view-checklist.js",
  "/capture/view-code.js",
  "/capture/view-detail.js",
  "/capture/view-drive.js",
  "/capture/view-lap-check.js",
  "/capture/view-log.js",
  "/capture/view-pad.js",
  "/capture/view-sessions.js",
  "/capture/view-settings.js",
  "/capture/view-setup.js",
  "/capture/view-status.js",
  "/capture/words.js",
  "/capture/zip.js",
  "/capture/icons/icon.svg",
  "/capture/icons/icon-192.png",
  "/shared/api.js",
  "/shared/theme.css",
  "/shared/measures.js",
  "/shared/vocabulary.js",
  "/manifest.webmanifest",
];
const VERSION = "48716283b343";
const CACHE = `ebbline-capture-${VERSION}`;
const CHOICE = "ebbline-capture-choice";
const CHOICE_KEY = "/capture/served-version";

/** @type {Promise<Cache | null> | null} asked for once, not with each of sixty files */
let current = null;

/** @returns {Promise<Cache | null>} the cache that is served */
async function servedCache() {
  current ??= served().then((name) => (name ? caches.open(name) : null));
  const cache = await current;
  if (!cache) current = null;
  return cache;
}

/** @returns {Promise<string | null>} its name */
async function served() {
  const choice = await (await caches.open(CHOICE)).match(CHOICE_KEY);
  const name = choice ? await choice.text() : null;
  return name && (await caches.has(name)) ? name : null;
}

async function serveThisVersion() {
  await (await caches.open(CHOICE)).put(CHOICE_KEY, new Response(CACHE));
  current = null;
  for (const name of await caches.keys()) {
    if (name.startsWith("ebbline-capture-") && name !== CACHE && name !== CHOICE) {
      await caches.delete(name);
    }
  }
}

async function install() {
  const cache = await caches.open(CACHE);
  await cache.addAll(FILES.map((path) => new Request(path, { cache: "reload" })));
}

async function activate() {
  if (!(await served())) await serveThisVersion();
  await worker.clients.claim();
}

/** @param {Request} request @param {string} path */
async function answer(request, path) {
  const held = await (await servedCache())?.match(path, { ignoreSearch: true });
  return held ?? fetch(request);
}

worker.addEventListener("install", (event) => event.waitUntil(install()));
worker.addEventListener("activate", (event) => event.waitUntil(activate()));

worker.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== location.origin) return;
  const page = event.request.mode === "navigate" && url.pathname.replace(/\/$/, "") === "/capture";
  const path = page ? "/capture" : url.pathname;
  if (FILES.includes(path)) event.respondWith(answer(event.request, path));
});

worker.addEventListener("message", (event) => {
  event.waitUntil((async () => {
    if (event.data === "newer?") {
      // a worker that came to power when the browser was restarted still serves what was chosen
      const name = await served(); // none: the first one is still coming to power
      if (name && name !== CACHE) event.source?.postMessage("newer");
    }
    if (event.data === "use") {
      const { held } = await navigator.locks.query();
      if (held?.some((lock) => lock.name === "ebbline-recording")) return;
      await serveThisVersion();
      await worker.skipWaiting();
      event.source?.postMessage("in use");
    }
  })());
});
