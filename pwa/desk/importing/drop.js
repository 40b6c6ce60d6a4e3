// @ts-check
/** The place to drop files on: the whole page takes them, so that a near miss can't replace it. */
import { el } from "../page/dom.js";

/**
 * @param {object} parts
 * @param {string} parts.words
 * @param {string} parts.hint
 * @param {string} parts.accept
 * @param {(files: File[]) => void} parts.onFiles
 */
export function createDropZone({ words, hint, accept, onFiles }) {
  const input = el("input", {
    type: "file", id: "import-file", class: "visually-hidden", multiple: true, accept,
    onchange: () => {
      onFiles([...(input.files ?? [])]);
      input.value = "";
    },
  });
  const zone = el("div", { class: "drop-zone" },
    el("p", { class: "drop-words" }, words), input,
    el("label", { for: "import-file", class: "button" }, "Choose files"), el("p", { class: "hint" }, hint));

  let depth = 0;
  const carriesFiles = (/** @type {DragEvent} */ event) => event.dataTransfer?.types.includes("Files") ?? false;
  document.addEventListener("dragenter", (event) => {
    if (!carriesFiles(event)) return;
    depth += 1;
    zone.classList.add("is-over");
  });
  document.addEventListener("dragleave", () => {
    depth = Math.max(0, depth - 1);
    if (depth === 0) zone.classList.remove("is-over");
  });
  document.addEventListener("dragover", (event) => carriesFiles(event) && event.preventDefault());
  document.addEventListener("drop", (event) => {
    if (!carriesFiles(event)) return;
    event.preventDefault();
    depth = 0;
    zone.classList.remove("is-over");
    onFiles([...(event.dataTransfer?.files ?? [])]);
  });
  return zone;
}
