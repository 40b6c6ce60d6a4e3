// @ts-check
/** By what the list is sorted: a button in the head of every column, and its place in the address. */
import { el } from "../page/dom.js";

/** @typedef {{ sort: string, order: "asc" | "desc" }} Order */

const LATEST_FIRST = /** @type {Order} */ ({ sort: "started", order: "desc" });
/** What is read from the largest down; words are from A on. */
const LARGEST_FIRST = new Set(["started", "distance", "energy", "share", "consumption", "events", "readings", "fixes", "published"]);

/**
 * @param {() => void} onChange
 */
export function createOrder(onChange) {
  const given = new URLSearchParams(window.location.search);
  /** @type {Order} */
  let now = { ...LATEST_FIRST };
  const sort = given.get("sort");
  if (sort) now = { sort, order: given.get("order") === "desc" ? "desc" : "asc" };

  /** @param {string} key */
  function choose(key) {
    const usual = LARGEST_FIRST.has(key) ? "desc" : "asc";
    now = { sort: key, order: now.sort !== key ? usual : now.order === "asc" ? "desc" : "asc" };
    onChange();
  }

  return {
    /** @returns {Order} */
    now: () => now,
    /** @returns {[string, string][]} for the address; nothing where it is as usual */
    asked: () => now.sort === LATEST_FIRST.sort && now.order === LATEST_FIRST.order ? [] : [["sort", now.sort], ["order", now.order]],
    /**
     * A column's head that sorts by it.
     * @param {string} key
     * @param {string} words
     * @param {boolean} [ofWords] whether the column holds words, not figures
     */
    head(key, words, ofWords = false) {
      const mine = now.sort === key;
      const sorted = mine ? (now.order === "asc" ? "ascending" : "descending") : null;
      return el("th", { scope: "col", class: ofWords ? "words" : null, "aria-sort": sorted },
        el("button", { type: "button", class: "sort", "data-sort": key, onclick: () => choose(key) }, words,
          el("span", { class: "sort-way", "aria-hidden": "true" }, mine ? (now.order === "asc" ? "\u2191" : "\u2193") : "")));
    },
  };
}
