// @ts-check
/** Who works at this desk: remembered by the browser, written into every record made here. */
import { el } from "../dom.js";

const KEY = "ebbline.desk.writer";
/** @type {Set<HTMLInputElement>} every field on the page shows the same name */
const fields = new Set();

/** @returns {string} "desk" while nobody gave a name */
export function writer() {
  try {
    return localStorage.getItem(KEY)?.trim() || "desk";
  } catch {
    return [...fields][0]?.value.trim() || "desk";
  }
}

/**
 * @param {string} id
 * @returns {HTMLElement} a field for the name
 */
export function createWriterField(id) {
  const input = el("input", {
    id, type: "text", autocomplete: "name", size: 12, placeholder: "name or initials",
    oninput: () => {
      try {
        localStorage.setItem(KEY, input.value.trim());
      } catch {
        // private windows may refuse; the field itself still holds the name
      }
      for (const other of fields) if (other !== input) other.value = input.value;
    },
  });
  const known = writer();
  input.value = known === "desk" ? "" : known;
  fields.add(input);
  return el("div", { class: "field" }, el("label", { for: id }, "Your name"), input);
}
