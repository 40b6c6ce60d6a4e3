// @ts-check
/** Colours for charts, read from the theme so that there is one place to change them. */

const NAMES = /** @type {const} */ ([
  "ground", "sheet", "ink", "ink-soft", "rule", "edge", "tide", "amber", "alarm",
  "line-speed", "line-energy", "line-soc", "line-power",
]);

/** @typedef {Record<(typeof NAMES)[number], string>} Tokens */

/** @returns {Tokens} */
export function themeTokens() {
  const style = getComputedStyle(document.documentElement);
  return /** @type {Tokens} */ (
    Object.fromEntries(NAMES.map((name) => [name, style.getPropertyValue(`--${name}`).trim()])));
}

/**
 * @param {string} hex "#rrggbb"
 * @param {number} alpha 0 to 1
 * @returns {string}
 */
export function translucent(hex, alpha) {
  const value = Number.parseInt(hex.slice(1), 16);
  return `rgba(${value >> 16}, ${(value >> 8) & 255}, ${value & 255}, ${alpha})`;
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
