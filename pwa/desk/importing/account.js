// @ts-check
/** One file's account: its name, how far it is, and plainly what came of it. */
import { el } from "../page/dom.js";
import { reasonOf } from "./send.js";

/** @typedef {import("./documents").Answer} Answer */

/**
 * @param {string} name the file's
 */
export function createAccount(name) {
  const words = el("p", { role: "status" });
  const bar = el("progress", { max: 1, value: 0, "aria-label": `Sending ${name}`, hidden: true });
  const more = el("div", { class: "import-more" });
  const element = el("li", { class: "import-account" }, el("strong", {}, name), words, bar, more);
  return {
    element,
    more,
    /** @param {...(string | Node)} parts */
    say(...parts) {
      words.replaceChildren(...parts);
    },
    /** @param {number} share 0 to 1 of the bytes sent */
    progress(share) {
      bar.hidden = share >= 1;
      bar.value = share;
      if (share >= 1) words.textContent = "Checking\u2026";
      else words.textContent = "Sending\u2026";
    },
    /** @param {...(string | Node)} parts */
    good(...parts) {
      bar.hidden = true;
      element.classList.remove("import-bad");
      element.classList.add("import-good");
      words.replaceChildren(...parts);
    },
    /**
     * @param {Answer | string} answer
     * @param {string} [lead]
     */
    bad(answer, lead = "Refused, nothing was stored. ") {
      bar.hidden = true;
      element.classList.remove("import-good");
      element.classList.add("import-bad");
      const reason = typeof answer === "string" ? answer : reasonOf(answer);
      words.replaceChildren(el("strong", {}, lead), reason);
      const where = typeof answer === "string" ? undefined : answer.body?.where;
      if (typeof where === "string" && !reason.includes(where)) {
        words.append(el("span", { class: "import-where" }, " Place: ", el("code", {}, where)));
      }
    },
  };
}
