// @ts-check
/// <reference lib="webworker" />
/**
 * Serves the capture app from a cache that holds one whole version. A newer version is fetched
 * into a cache of its own and lies there: which version is served is written down, and changes
 * only when the user says yes on a page that is not recording. So neither a new worker nor a
 * restart of the browser ever swaps the app in the middle of a run.
 */
const worker = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));

/**
 * The page of this version, and all that it takes in.
 * @typedef {{ version: string, page: string, files: string[] }} Copy
 */
/* The server writes it in front of this file, from the files themselves. */
const { version, page, files } = /** @type {Copy} */ (/** @type {any} */ (self).COPY);
const PAGE = "/capture";
const CACHE = `ebbline-capture-${version}`;
const CHOICE = "ebbline-capture-choice";
const CHOICE_KEY = "/capture/served-version";

/** @type {Promise<Cache | null> | null} asked for with each page, not with each of its files */
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
  const [answer] = await Promise.all([fetch(page), cache.addAll(files)]);
  if (!answer.ok) throw new Error(`${page}: ${answer.status}`);
  await cache.put(PAGE, answer);
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
  const { pathname, origin } = new URL(event.request.url);
  if (event.request.method !== "GET" || origin !== location.origin || pathname.startsWith("/api/")) return;
  const isPage = event.request.mode === "navigate" && pathname.replace(/\/$/, "") === PAGE;
  if (isPage) current = null; // another worker may have written down another version meanwhile
  event.respondWith(answer(event.request, isPage ? PAGE : pathname));
});

worker.addEventListener("message", (event) => {
  event.waitUntil((async () => {
    if (event.data === "newer?") {
      // waiting, or in power since the browser was restarted: it serves what was chosen
      const name = await served(); // none: the first one is still coming to power
      if (name && name !== CACHE) event.source?.postMessage("newer");
    }
    if (event.data === "use") {
      const { held } = await navigator.locks.query();
      if (held?.some((lock) => lock.name === "ebbline-recording")) {
        event.source?.postMessage("recording");
        return;
      }
      await serveThisVersion();
      event.source?.postMessage("in use"); // by whichever worker is in power
      await worker.skipWaiting();
    }
  })());
});
