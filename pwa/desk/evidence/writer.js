// @ts-check
/** Who works at this desk: remembered by the browser, written into every record made here. */
import { request } from "../../shared/api.js";
import { el } from "../page/dom.js";

const KEY = "ebbline.desk.writer";
/** @type {Set<HTMLInputElement>} every field on the page shows the same name */
const fields = new Set();
/** where people sign in, the name is theirs and nobody types another */
let signedIn = "";
request("/me").then(({ name }) => {
  signedIn = name ?? "";
  for (const field of fields) settle(field);
}).catch(() => undefined); // no name is needed to work on

/** @param {HTMLInputElement} field */
function settle(field) {
  if (!signedIn) return;
  field.value = signedIn;
  field.readOnly = true;
}

/** @returns {string} "desk" while nobody gave a name */
export function writer() {
  if (signedIn) return signedIn;
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
  settle(input);
  return el("div", { class: "field" }, el("label", { for: id }, "Your name"), input);
}
