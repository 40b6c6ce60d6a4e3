// @ts-check
/** Warnings in classes: what the same words were put into before. Pure. */

/** What a car said, and its class. @typedef {{ text: string, class: string }} KnownWarning */

/** @param {string} text @returns {string} alike for words that differ in case or spaces alone */
const plain = (text) => text.trim().replace(/\s+/g, " ").toLowerCase();

/**
 * @param {readonly KnownWarning[]} known the latest first
 * @param {string} text what the car said
 * @returns {string} the class that these words had last; empty where they had none
 */
export const classOf = (known, text) => known.find((one) => plain(one.text) === plain(text))?.class ?? "";

/**
 * @param {readonly KnownWarning[]} known the latest first
 * @param {readonly KnownWarning[]} news later than those
 * @returns {KnownWarning[]} each words once, the latest first
 */
export function withNews(known, news) {
  /** @type {Map<string, KnownWarning>} */
  const all = new Map();
  for (const one of [...news, ...known]) if (!all.has(plain(one.text))) all.set(plain(one.text), one);
  return [...all.values()];
}
