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
 * Says under a field what is wrong with it, or takes that back.
 * @param {HTMLInputElement | HTMLSelectElement} input in a field of its own @param {string} problem empty where nothing is
 */
export function mark(input, problem) {
  const id = `${input.id}-problem`;
  const field = input.closest(".field");
  const note = document.getElementById(id) ?? field?.appendChild(el("small", { id, class: "field-problem" }));
  if (note) note.textContent = problem;
  const described = (input.getAttribute("aria-describedby") ?? "").split(" ").filter((one) => one && one !== id);
  if (problem) {
    input.setAttribute("aria-invalid", "true");
    described.push(id);
  } else {
    input.removeAttribute("aria-invalid");
    note?.remove();
  }
  if (described.length > 0) input.setAttribute("aria-describedby", described.join(" "));
  else input.removeAttribute("aria-describedby");
}

/** The first field in a form that is marked as wrong, and what is said of it. @param {HTMLElement} form @returns {{ input: HTMLInputElement | HTMLSelectElement, problem: string } | null} */
export function firstWrong(form) {
  /** @type {HTMLInputElement | HTMLSelectElement | null} */
  const input = form.querySelector("[aria-invalid='true']");
  return input && { input, problem: document.getElementById(`${input.id}-problem`)?.textContent ?? "" };
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
