// @ts-check
/**
 * The one place where the drive page advises: words to read to the driver, or a figure worth
 * noting now. It lies over the running figures and the scale, never over a button, and moves
 * nothing.
 */
import { h, onPress, say } from "../page/dom.js";

/** @typedef {import("./types").Words} Words */

/** @param {{ quiet: (kind: Words["kind"]) => void }} parts */
export function createAdvice({ quiet }) {
  const lead = h("small");
  const main = h("b");
  const rest = h("span");
  const cross = h("button", { class: "advice-quiet", "aria-label": "Not now" }, "✕");
  /** What a screen reader says: once for each piece of advice, not with each new speed. */
  const heard = h("p", { class: "visually-hidden", role: "status" });
  let told = "";
  const element = h("aside", { class: "advice", "aria-label": "Advice", hidden: true },
    h("p", {}, lead, main, rest), cross);
  onPress(cross, () => {
    const { kind } = element.dataset;
    show(null);
    if (kind === "band" || kind === "note") quiet(kind);
  });

  /** @param {Words | null} words @returns {boolean} whether it is another piece of advice than before */
  function show(words) {
    element.hidden = words === null;
    const news = words ? `${words.kind} ${words.main.split(",")[0]}` : "";
    const isNews = news !== told;
    if (isNews) say(heard, words ? [words.lead, words.main, words.rest].filter(Boolean).join(" ") : "");
    told = news;
    if (!words) return false;
    element.dataset.kind = words.kind;
    say(lead, words.lead);
    say(main, words.main);
    say(rest, words.rest);
    return isNews;
  }

  return { element, heard, show };
}
