// @ts-check
/** Photos in bulk: a time is proposed for each, a person looks, then they come in one by one. */
import { formatNumber } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { createFormStatus } from "../page/form-status.js";
import { photoType } from "./kinds.js";
import { reasonOf, send, succeeded } from "./send.js";

/** @typedef {import("./documents").Target} Target */

const FIRST_BYTES = 128 * 1024; // a camera writes the time at the beginning
const NEAR_MS = 120_000;
const SOURCES = { exif: "by the camera", name: "by its name", file: "by the file\u2019s date: may be when it was copied" };

/**
 * @param {File[]} files
 * @param {() => Target} target
 * @param {() => Promise<void>} onImported
 * @returns {HTMLElement}
 */
export function takePhotos(files, target, onImported) {
  const status = createFormStatus();
  const uid = crypto.randomUUID();
  const device = el("input", { id: `camera-${uid}`, type: "text", value: "camera", maxlength: 100, autocomplete: "off" });
  const shift = el("input", { id: `shift-${uid}`, type: "text", inputmode: "decimal", size: 6, placeholder: "0", autocomplete: "off" });
  const rows = files.map((file) => photoRow(file, target));
  const take = el("button", { type: "button", class: "primary", onclick: () => void bringIn() },
    files.length === 1 ? "Import the photo" : `Import ${formatNumber(files.length, 0)} photos`);
  const leave = el("button", { type: "button", class: "quiet", onclick: () => element.remove() }, "Leave them out");
  const element = el("li", { class: "import-account import-photos" },
    el("strong", {}, files.length === 1 ? "1 photo" : `${formatNumber(files.length, 0)} photos`),
    el("p", {}, "When each was taken is only proposed: phones strip it, and a camera\u2019s clock may be wrong. Look before you import them."),
    el("div", { class: "import-fields" },
      el("div", { class: "field" }, el("label", { for: device.id }, "Camera"), device),
      el("div", { class: "field" }, el("label", { for: shift.id }, "Shift all times by, s"),
        el("div", { class: "field-joined" }, shift, el("button", { type: "button", class: "quiet", onclick: moveAll }, "Shift"))),
      el("div", { class: "field" }, el("span", { class: "field-name" }, "Times not known"),
        el("button", { type: "button", class: "quiet", onclick: () => rows.forEach((row) => row.byFileDate()) }, "Propose the files\u2019 dates"))),
    el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "Photos and their times" },
      el("table", { class: "figures photo-times" },
        el("caption", { class: "visually-hidden" }, "Photos and when they were taken"),
        el("thead", {}, el("tr", {}, ...["Photo", `Taken at (${target().clock.zone})`, "Proposed", "Nearest event", "Outcome"].map((head) => el("th", { scope: "col", class: "words" }, head)))),
        el("tbody", {}, ...rows.map((row) => row.element)))),
    el("div", { class: "form-actions" }, take, leave, status.element));

  function moveAll() {
    const seconds = Number(shift.value.trim().replace(",", ".").replace("\u2212", "-"));
    if (!Number.isFinite(seconds)) {
      status.say("A number of seconds is needed, such as \u221212.5.", "alarm");
      return;
    }
    rows.forEach((row) => row.move(seconds * 1000));
    status.say("", "soft");
  }

  async function bringIn() {
    const waiting = rows.filter((row) => !row.kept());
    const without = waiting.find((row) => row.atMs() === null);
    if (without) {
      without.point();
      status.say("Each photo needs a time: type it as hh:mm:ss, or propose the files\u2019 dates.", "alarm");
      return;
    }
    take.disabled = true;
    let kept = 0;
    for (const [index, row] of waiting.entries()) {
      status.say(`Sending ${index + 1} of ${waiting.length}\u2026`, "soft");
      if (await row.bringIn(device.value.trim() || "camera")) kept += 1;
    }
    take.disabled = false;
    const refused = waiting.length - kept;
    status.say(`${kept === 1 ? "1 photo is" : `${kept} photos are`} here${refused ? `; ${refused} refused, each with its reason above` : ""}.`,
      refused ? "alarm" : "good");
    take.hidden = refused === 0;
    leave.textContent = "Close";
    if (kept > 0) await onImported();
  }

  return element;
}

/**
 * @param {File} file
 * @param {() => Target} target
 */
function photoRow(file, target) {
  const { clock, id, zone } = target();
  const type = photoType(file) ?? "image/jpeg";
  let kept = false;
  /** what the text stands for, to the millisecond
   * @type {{ text: string, tMs: number } | null} */
  let exact = null;
  const address = URL.createObjectURL(file);
  const thumb = el("img", { src: address, alt: "", width: 72, height: 54, loading: "lazy", onload: () => URL.revokeObjectURL(address) });
  const input = el("input", { type: "text", inputmode: "numeric", size: 10, placeholder: "hh:mm:ss", autocomplete: "off", "aria-label": `When ${file.name} was taken`, oninput: place });
  const date = el("span", { class: "row-note" });
  const source = el("td", { class: "words" }, "Looking\u2026");
  const near = el("td", { class: "words" });
  const outcome = el("td", { class: "words photo-outcome" });
  const element = el("tr", {},
    el("th", { scope: "row", class: "words" }, el("div", { class: "photo-name" }, thumb, el("span", {}, file.name))),
    el("td", { class: "words" }, input, date), source, near, outcome);

  /** @returns {number | null} */
  function atMs() {
    const text = input.value.trim();
    if (exact && exact.text === text) return exact.tMs;
    return clock.parse(text, exact?.tMs ?? target().nearMs);
  }
  /** @param {number} tMs */
  function set(tMs) {
    const text = clock.time(tMs, 1);
    exact = { text, tMs: Math.round(tMs) };
    input.value = text;
    input.removeAttribute("aria-invalid");
    place();
  }
  function place() {
    const tMs = atMs();
    date.textContent = tMs === null ? "" : clock.date(tMs);
    const nearest = tMs === null ? null : target().events
      .map(({ atMs: eventMs, words }) => ({ words, off: tMs - eventMs }))
      .reduce((/** @type {{ words: string, off: number } | null} */ best, each) =>
        best === null || Math.abs(each.off) < Math.abs(best.off) ? each : best, null);
    near.textContent = nearest === null ? "" : Math.abs(nearest.off) > NEAR_MS ? "none within two minutes"
      : `${nearest.words}, ${Math.abs(Math.round(nearest.off / 1000))} s ${nearest.off < 0 ? "before" : "after"} it`;
  }

  void (async () => {
    const asked = new URLSearchParams({ name: file.name.slice(0, 300), ...(zone ? { zone } : {}) });
    const answer = await send(`/imports/photo-time?${asked}`, file.slice(0, FIRST_BYTES), type, () => undefined);
    const proposal = answer.body?.proposal;
    if (succeeded(answer) && proposal) {
      set(proposal.t_ms);
      source.textContent = SOURCES[/** @type {keyof typeof SOURCES} */ (proposal.source)] ?? proposal.source;
    } else {
      source.textContent = succeeded(answer) ? "nothing says when" : reasonOf(answer);
    }
  })();

  return {
    element,
    atMs,
    kept: () => kept,
    /** @param {number} byMs */
    move(byMs) {
      const tMs = atMs();
      if (tMs !== null && !kept) set(tMs + byMs);
    },
    byFileDate() {
      if (atMs() !== null || kept) return;
      set(file.lastModified);
      source.textContent = SOURCES.file;
    },
    point() {
      input.setAttribute("aria-invalid", "true");
      input.focus();
    },
    /** @param {string} device @returns {Promise<boolean>} whether the server holds it */
    async bringIn(device) {
      const asked = new URLSearchParams({ t_ms: String(atMs()), device });
      const answer = await send(`/sessions/${encodeURIComponent(id)}/photos?${asked}`, file, type,
        (share) => void (outcome.textContent = share < 1 ? `${Math.round(share * 100)} %` : "checking"));
      kept = succeeded(answer);
      outcome.textContent = kept ? "kept" : `Refused: ${reasonOf(answer)}`;
      outcome.classList.toggle("photo-refused", !kept);
      input.disabled = kept;
      return kept;
    },
  };
}
