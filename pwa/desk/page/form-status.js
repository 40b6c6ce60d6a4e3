// @ts-check
/** What a form says after trying: one line with a place of its own, so that nothing jumps. */
import { el } from "./dom.js";

export function createFormStatus() {
  const element = el("p", { class: "form-status", role: "status", tabindex: -1 });
  /** @param {string} words @param {"good" | "alarm" | "soft"} tone */
  const say = (words, tone) => {
    element.className = `form-status form-status-${tone}`;
    element.textContent = words;
  };
  return { element, say };
}

/**
 * Marks a field as wrong and takes the user there.
 * @param {HTMLInputElement | HTMLSelectElement} input
 */
export function point(input) {
  input.setAttribute("aria-invalid", "true");
  input.focus();
  input.addEventListener("input", () => input.removeAttribute("aria-invalid"), { once: true });
}
