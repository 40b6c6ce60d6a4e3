// @ts-check
/** A button that puts a text where the next paste takes it from. */
import { el } from "./dom.js";
import { createFormStatus } from "./form-status.js";

/**
 * @param {string} name
 * @param {() => string} text asked for when it is pressed
 * @returns {Node[]} the button, and what came of it
 */
export function copyButton(name, text) {
  const status = createFormStatus();
  const button = el("button", {
    type: "button", class: "quiet",
    onclick: async () => {
      try {
        await navigator.clipboard.writeText(text());
        status.say("Copied.", "good");
      } catch {
        status.say("The browser doesn\u2019t allow it: mark the text and copy it by hand.", "alarm");
      }
    },
  }, name);
  return [button, status.element];
}
