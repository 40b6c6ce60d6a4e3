// @ts-check
/** Colours for charts, read from the theme so that there is one place to change them. */

const NAMES = /** @type {const} */ ([
  "ground", "sheet", "ink", "ink-soft", "rule", "edge", "tide", "amber", "amber-wash", "alarm",
  "line-speed", "line-distance", "line-energy", "line-soc", "line-power",
]);

/** @typedef {Record<(typeof NAMES)[number], string>} Tokens */

/** @returns {Tokens} */
export function themeTokens() {
  const style = getComputedStyle(document.documentElement);
  return /** @type {Tokens} */ (
    Object.fromEntries(NAMES.map((name) => [name, style.getPropertyValue(`--${name}`).trim()])));
}

/** @returns {"day" | "night"} */
export function currentTheme() {
  return document.documentElement.dataset.theme === "night" ? "night" : "day";
}

/** @param {"day" | "night"} theme shown now and remembered */
export function setTheme(theme) {
  document.documentElement.dataset.theme = theme;
  try {
    localStorage.setItem("ebbline.theme", theme);
  } catch {
    // private windows may refuse; the theme still changes
  }
}
