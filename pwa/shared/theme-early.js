// @ts-check
/* A classic script in the head: sets the theme before the first paint, so night never flashes. */
(() => {
  let kept = null;
  try {
    kept = localStorage.getItem("ebbline.theme");
  } catch {
    // blocked storage: the system's wish decides
  }
  const wished = matchMedia("(prefers-color-scheme: dark)").matches ? "night" : "day";
  document.documentElement.dataset.theme = kept === "day" || kept === "night" ? kept : wished;
})();
