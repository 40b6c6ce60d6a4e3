// @ts-check
/* Runs before the first paint, so that a night theme never flashes white at a driver. A classic
   script: modules run too late for that. */
(() => {
  /** @type {Record<string, unknown>} */
  let kept = {};
  try {
    kept = JSON.parse(localStorage.getItem("ebbline.capture") ?? "{}") ?? {};
  } catch {
    // storage may be blocked; the defaults do
  }
  const dark = matchMedia("(prefers-color-scheme: dark)").matches;
  const root = document.documentElement;
  root.dataset.theme = typeof kept.theme === "string" && kept.theme !== "system" ? kept.theme : dark ? "night" : "day";
  root.dataset.hand = kept.hand === "left" ? "left" : "right";
})();
