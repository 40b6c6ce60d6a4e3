// @ts-check
/** What pages of many sessions say in words, alike everywhere. */
import { formatNumber } from "../../shared/units.js";
import { EVENTS } from "../../shared/vocabulary.js";
import { el } from "../page/dom.js";
import { whole } from "../page/figure.js";

/** @typedef {import("./documents").Figure} Figure */

export const BEFORE_ZERO = "shut down before zero";

/** A way past zero, which a car that never came to zero hasn't. @param {import("./documents").ComparedSession} row @returns {Figure} */
export function distanceOf({ reserve_m: told, shut_down_before_zero: before }) {
  return before && !whole(told) ? null : told;
}

/** @param {string} name of a class of warnings */
export function className(name) {
  const words = EVENTS.warning?.choices?.words[name] ?? name.replaceAll("_", " ");
  return words.charAt(0).toUpperCase() + words.slice(1);
}

/** Which sessions a campaign names, alike wherever it is shown. @param {import("./documents").Campaign} campaign @returns {string[]} */
export function selectionWords({ session_ids: chosen, left_out: out }) {
  const words = chosen.length === 0 ? "no sessions yet" : chosen.length === 1 ? "1 session" : `${formatNumber(chosen.length, 0)} sessions`;
  return out.length === 0 ? [words] : [words, `${formatNumber(out.length, 0)} left out by choice`];
}

/** @param {boolean | null} agrees @param {readonly string[]} [apart] in what @returns {HTMLElement} never by colour alone */
export function verdict(agrees, apart = []) {
  const [tone, sign, words] = agrees === null ? ["soft", "\u25cb", "can\u2019t be told"]
    : agrees ? ["good", "\u25cf", "agree within their doubt"] : ["alarm", "\u25b2", `apart${apart.length > 0 ? ` in ${apart.join(" and ")}` : ""} by more than their doubt`];
  return el("span", { class: `verdict-${tone}` }, el("span", { "aria-hidden": "true" }, `${sign} `), words);
}

/** @param {string | null} stamp RFC 3339 @returns {string} the day by the session's own clock */
export function day(stamp) {
  const match = /^(\d{4})-(\d\d)-(\d\d)/.exec(stamp ?? "");
  if (!match) return "\u2013";
  return new Intl.DateTimeFormat("en-GB", { timeZone: "UTC", day: "numeric", month: "short", year: "numeric" })
    .format(new Date(Date.UTC(Number(match[1]), Number(match[2]) - 1, Number(match[3]))));
}
