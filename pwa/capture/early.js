// @ts-check
/* Runs before the first paint, so that a night theme never flashes white at a driver, and says why
   when the page behind it can't begin. A classic script: modules run too late for that, or not. */
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

  addEventListener("error", (/** @type {Event} */ event) => {
    const app = document.getElementById("app");
    const isOurs = event instanceof ErrorEvent || event.target instanceof HTMLScriptElement;
    if (!isOurs || !app || app.firstChild) return; // once there is a page, it speaks for itself
    const parts = [
      ["h1", "", "Not ready"],
      ["p", "", event instanceof ErrorEvent
        ? `This browser can't run the page (${event.message}). Update it, then try again.`
        : "A part of the page could not be loaded. Look for a network, then try again."],
      ["button", "key wide primary", "Try again"],
    ].map(([tag = "", className, textContent]) => Object.assign(document.createElement(tag), { className, textContent }));
    parts.at(-1)?.addEventListener("click", () => location.reload());
    const main = document.createElement("main");
    main.className = "page";
    main.append(...parts);
    app.append(main);
  }, true);
})();
