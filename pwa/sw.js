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
  "/capture/drive/reading-advice.js",
  "/capture/drive/reading-worth.js",
  "/capture/drive/speed-band.js",
  "/capture/drive/taps.js",
  "/capture/drive/view-advice.js",
  "/capture/drive/view-detail.js",
  "/capture/drive/view-drive.js",
  "/capture/drive/view-pad.js",
  "/capture/lap-check/lap-check.js",
  "/capture/lap-check/lap-run.js",
  "/capture/lap-check/lap-verdict.js",
  "/capture/lap-check/laps.js",
  "/capture/lap-check/trip-meter.js",
  "/capture/lap-check/view-lap-check.js",
  "/capture/page/dom.js",
  "/capture/page/glyphs.js",
  "/capture/page/prefs.js",
  "/capture/page/sheet.js",
  "/capture/page/view-settings.js",
  "/capture/phone/camera.js",
  "/capture/phone/clock.js",
  "/capture/phone/feedback.js",
  "/capture/phone/keep-awake.js",
  "/capture/phone/versions.js",
  "/capture/position/gps.js",
  "/capture/position/along-at.js",
  "/capture/position/odometer.js",
  "/capture/records/evidence.js",
  "/capture/records/recorder.js",
  "/capture/records/view-log.js",
  "/capture/records/words.js",
  "/capture/run/phone-state.js",
  "/capture/run/photo-keeper.js",
  "/capture/run/run.js",
  "/capture/run/view-status.js",
  "/capture/sending/batches.js",
  "/capture/sending/export.js",
  "/capture/sending/outbox.js",
  "/capture/sending/pacing.js",
  "/capture/sending/sending.js",
  "/capture/sending/zip.js",
  "/capture/sessions/entrance.js",
  "/capture/sessions/pairing.js",
  "/capture/sessions/view-code.js",
  "/capture/sessions/view-sessions.js",
  "/capture/setup/checklist.js",
  "/capture/setup/courses.js",
  "/capture/setup/merge.js",
  "/capture/setup/setup.js",
  "/capture/setup/view-checklist.js",
  "/capture/setup/view-setup.js",
  "/capture/storage/database.js",
  "/capture/storage/persistence.js",
  "/capture/storage/store-photos.js",
  "/capture/storage/store.js",
  "/shared/icons/icon.svg",
  "/shared/icons/icon-192.png",
  "/shared/api.js",
  "/shared/theme.css",
  "/shared/measures.js",
  "/shared/rules.js",
  "/shared/vocabulary.js",
  "/manifest.webmanifest",
];
const VERSION = "28d6f4e48ad1";
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
