// @ts-check
/** Bringing in a session file by dropping or choosing it, and saying plainly what came of it. */
import { formatNumber } from "../shared/units.js";
import { el } from "./dom.js";

/**
 * @param {File} file
 * @param {(share: number) => void} onProgress 0 to 1 of the bytes sent
 * @returns {Promise<{ status: number, body: any }>} status 0 when there was no usable answer
 */
function upload(file, onProgress) {
  return new Promise((resolve) => {
    const sending = new XMLHttpRequest(); // fetch has no progress of what it sends
    sending.open("POST", "/api/sessions/import");
    sending.setRequestHeader("Content-Type", /\.zip$/i.test(file.name) ? "application/zip" : "application/json");
    sending.upload.addEventListener("progress", (event) => event.lengthComputable && onProgress(event.loaded / event.total));
    sending.addEventListener("load", () => {
      let body = null;
      try {
        body = JSON.parse(sending.responseText);
      } catch {
        // a proxy's page, not our answer
      }
      resolve({ status: body ? sending.status : 0, body });
    });
    sending.addEventListener("error", () => resolve({ status: 0, body: null }));
    sending.send(file);
  });
}

/**
 * @param {() => Promise<void>} onImported
 */
export function createImport(onImported) {
  const input = el("input", {
    type: "file", id: "import-file", class: "visually-hidden", multiple: true, accept: ".json,.zip,application/json,application/zip",
    onchange: () => {
      void take([...(input.files ?? [])]);
      input.value = "";
    },
  });
  const accounts = el("ul", { class: "import-accounts", "aria-live": "polite" });
  const zone = el("div", { class: "drop-zone" },
    el("p", { class: "drop-words" }, "Drop session files here"),
    input, el("label", { for: "import-file", class: "button" }, "Choose files"),
    el("p", { class: "hint" }, "One .ebbline.json, or .ebbline.zip with its photos. The same file twice changes nothing."));
  const element = el("section", { class: "import", "aria-labelledby": "import-title" },
    el("h2", { id: "import-title" }, "Bring in a session"), zone, accounts);

  /** @param {File[]} files */
  async function take(files) {
    for (const file of files) await one(file);
  }

  /** @param {File} file */
  async function one(file) {
    const words = el("p", {}, "Sending\u2026");
    const bar = el("progress", { max: 1, value: 0, "aria-label": `Sending ${file.name}` });
    const line = el("li", { class: "import-account" }, el("strong", {}, file.name), words, bar);
    accounts.prepend(line);
    const { status, body } = await upload(file, (share) => {
      bar.value = share;
      if (share === 1) words.textContent = "Checking\u2026";
    });
    bar.remove();
    if (status === 200 || status === 201) {
      line.classList.add("import-good");
      const held = ["events", "readings", "fixes"]
        .filter((name) => typeof body[name] === "number").map((name) => `${formatNumber(body[name], 0)} ${name}`).join(", ");
      words.replaceChildren(`${status === 201 ? "Imported" : "Already here, nothing changed"}${held && `: ${held}`}. `,
        el("a", { href: `/desk?session=${encodeURIComponent(body.id)}` }, "Open it"));
      await onImported();
      return;
    }
    line.classList.add("import-bad");
    const reason = status === 0 ? "The server can\u2019t be reached, or something else answered in its place."
      : String(body.message ?? "The server refused it without a reason.");
    words.replaceChildren(el("strong", {}, "Refused, nothing was stored. "), reason);
    if (typeof body?.where === "string" && !reason.includes(body.where)) {
      line.append(el("p", { class: "import-where" }, "Place: ", el("code", {}, body.where)));
    }
  }

  // the whole page takes a drop: a file let go beside the zone must not replace the page
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
    void take([...(event.dataTransfer?.files ?? [])]);
  });
  return { element };
}
