// @ts-check
/** Typing what the photos show: the photo on one side, its figures on the other, hands on the keys. */
import { eventName } from "../../shared/vocabulary.js";
import { createConflict } from "../evidence/conflict.js";
import { SaveConflict, recordMaker, save } from "../evidence/save.js";
import { el } from "../page/dom.js";
import { createFormStatus } from "../page/form-status.js";
import { standing } from "../../shared/rules.js";
import { reveal } from "../page/parts.js";
import { clockOffsets } from "../session/clock.js";
import { differences, recordWords } from "../words/wording.js";
import { createFigureRows } from "./figure-rows.js";
import { createStage } from "./stage.js";

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {import("../session/documents").RawPhoto} RawPhoto */
/** @typedef {import("../session/documents").RawReading} RawReading */

/**
 * @param {string} sessionId
 * @param {string} sha256
 */
export function photoUrl(sessionId, sha256) {
  return `/api/sessions/${encodeURIComponent(sessionId)}/photos/${sha256}`;
}

/**
 * @param {RawReading[]} readings
 * @returns {Map<string, RawReading[]>} what stands of each photo, by its hash
 */
export function readingsByPhoto(readings) {
  /** @type {Map<string, RawReading[]>} */
  const byPhoto = new Map();
  for (const record of standing(readings)) {
    if (!record.photo) continue;
    byPhoto.set(record.photo, [...(byPhoto.get(record.photo) ?? []), record]);
  }
  return byPhoto;
}

/**
 * @param {() => Promise<void>} onChanged called when it is closed after something was saved
 */
export function createPhotoDesk(onChanged) {
  /** @type {Model | null} */
  let model = null;
  /** @type {RawPhoto[]} */
  let photos = [];
  /** all readings, those saved here too: figures are worked out again only when this is closed
   * @type {RawReading[]} */
  let readings = [];
  let index = 0;
  let changed = false;
  let busy = false;
  const make = recordMaker();

  const stage = createStage();
  const rows = createFigureRows(() => void saveAndStep(1));
  const heading = el("h2", { id: "photo-desk-title" }, "\u00a0");
  const facts = el("p", { class: "soft" }, "\u00a0");
  const progress = el("progress", { max: 1, value: 0, "aria-label": "Photos with figures typed" });
  const progressWords = el("span", { class: "hint" });
  const status = createFormStatus();
  const conflict = createConflict("photo-conflict-title");
  const dialog = el("dialog", { class: "photo-desk", "aria-labelledby": heading.id, onclose: closed, onkeydown: onKey },
    stage.element,
    el("div", { class: "photo-side" },
      el("div", { class: "photo-head" }, heading, el("button", { type: "button", class: "quiet", onclick: () => dialog.close() }, "Close")),
      facts, el("div", { class: "photo-progress" }, progress, progressWords),
      rows.element, conflict.element,
      el("div", { class: "form-actions" },
        el("button", { type: "button", class: "primary", onclick: () => void saveAndStep(1) }, "Save and next"),
        el("button", { type: "button", class: "quiet", onclick: () => void saveAndStep(-1) }, "Previous"),
        el("button", { type: "button", class: "quiet", onclick: () => step(1) }, "Skip")),
      status.element,
      el("dl", { class: "keys-legend" }, ...[
        ["Enter", "next figure; after the last, save and next photo"], ["Page Down, Page Up", "save, next or previous photo"],
        ["+", "closer, and back to the whole"], ["Shift + arrows", "move the photo"], ["Esc", "close"],
      ].flatMap(([key, words]) => [el("dt", {}, el("kbd", {}, key ?? "")), el("dd", {}, words ?? "")]))));

  /** @param {KeyboardEvent} event */
  function onKey(event) {
    const arrow = /** @type {Record<string, [number, number]>} */ ({
      ArrowLeft: [-0.1, 0], ArrowRight: [0.1, 0], ArrowUp: [0, -0.1], ArrowDown: [0, 0.1],
    })[event.key];
    if (event.key === "PageDown") void saveAndStep(1);
    else if (event.key === "PageUp") void saveAndStep(-1);
    else if (event.key === "Enter" && event.ctrlKey) void saveAndStep(1);
    else if (event.key === "+") stage.zoom();
    else if (event.shiftKey && arrow) stage.pan(...arrow);
    else return;
    event.preventDefault();
  }

  function closed() {
    if (changed) void onChanged();
    changed = false;
  }

  /** @param {RawPhoto} photo @returns {number | null} session time */
  function momentOf(photo) {
    if (!model || typeof photo.t_ms !== "number") return null;
    return photo.t_ms + clockOffsets(model.session)(photo.device ?? "");
  }

  function show() {
    const photo = photos[index];
    if (!model || !photo) return;
    const byPhoto = readingsByPhoto(readings);
    const at = momentOf(photo);
    const taken = photo.event ? model.events.find(({ record, earlier }) => record.id === photo.event || earlier.some(({ id }) => id === photo.event)) : null;
    heading.textContent = `Photo ${index + 1} of ${photos.length}`;
    facts.textContent = [at === null ? "time not known" : model.clock.time(at, 1), taken && `with \u201c${eventName((taken.earlier.at(-1) ?? taken.record).kind)}\u201d`, photo.device].filter(Boolean).join(" \u00b7 ");
    const typed = photos.filter(({ sha256 }) => byPhoto.has(sha256)).length;
    progress.max = photos.length;
    progress.value = typed;
    progressWords.textContent = `${typed} of ${photos.length} typed`;
    stage.show(photoUrl(model.id, photo.sha256), `The display at ${at === null ? "an unknown time" : model.clock.time(at)}`);
    const next = photos[index + 1];
    if (next) stage.ahead(photoUrl(model.id, next.sha256));
    rows.show(byPhoto.get(photo.sha256) ?? []);
    conflict.hide();
    rows.focus();
  }

  /** @param {number} by */
  function step(by) {
    const to = index + by;
    if (to < 0 || to >= photos.length) {
      status.say(by > 0 ? "That was the last photo." : "This is the first photo.", "soft");
      return;
    }
    index = to;
    show();
  }

  /** @param {number} by what comes after saving */
  async function saveAndStep(by) {
    const photo = photos[index];
    if (!model || !photo || busy) return;
    const typed = rows.read();
    if (typeof typed === "string") {
      status.say(typed, "alarm");
      return;
    }
    if (typed.length === 0) {
      step(by);
      return;
    }
    if (typeof photo.t_ms !== "number") {
      status.say("Nobody knows when this photo was taken: type its figures in the readings below, with their moment.", "alarm");
      return;
    }
    const at = photo.t_ms;
    await store(typed.map(({ shown, corrects }) => make({
      device: photo.device ?? "desk", t_ms: at, ...shown, source: "typed", photo: photo.sha256, corrects: corrects?.id ?? null,
      ...(corrects ? { reason: "read again from the photo" } : {}),
    })), by);
  }

  /** @param {RawReading[]} records @param {number} by */
  async function store(records, by) {
    if (!model) return;
    busy = true;
    status.say("Saving\u2026", "soft");
    try {
      await save(model.id, { readings: records });
    } catch (error) {
      const clash = error instanceof SaveConflict ? error.conflicts[0] : undefined;
      if (clash) settle(clash, records, by);
      else status.say(`Not saved: ${error instanceof Error ? error.message : error} What you typed is still here.`, "alarm");
      return;
    } finally {
      busy = false;
    }
    changed = true;
    readings = [...readings, ...records];
    status.say(`Saved ${records.map(recordWords).join(", ")}.`, "good");
    if (index + by >= photos.length || index + by < 0) show(); // the last one: stay, with what is held now
    step(by);
  }

  /**
   * @param {import("../evidence/save.js").Conflict} clash
   * @param {RawReading[]} records
   * @param {number} by
   */
  function settle(clash, records, by) {
    if (!model) return;
    status.say("Not saved: somebody else has changed a figure of this photo meanwhile.", "alarm");
    readings = [...readings, clash.held];
    conflict.show({
      title: "This figure was changed while you had it open", heldBy: clash.held.by ?? clash.held.device,
      lines: differences(clash.yours, clash.held, model.clock),
      onMine: () => {
        conflict.hide();
        void store(records.map((record) => (record.id === clash.yours.id
          ? make({ ...record, id: undefined, by: undefined, written_at: undefined, corrects: clash.held.id }) : record)), by);
      },
      onHeld: () => {
        changed = true;
        const rest = records.filter(({ id }) => id !== clash.yours.id);
        if (rest.length) void store(rest, by);
        else show();
      },
    });
  }

  return {
    element: dialog,
    /** @param {Model} next */
    update(next) {
      model = next;
      if (dialog.open) return; // what is being typed stays
      photos = [...next.session.photos].sort((a, b) => (momentOf(a) ?? Infinity) - (momentOf(b) ?? Infinity));
      readings = next.session.readings;
    },
    /** @param {string} [sha256] the photo to begin with; else the first without figures */
    open(sha256) {
      const byPhoto = readingsByPhoto(readings);
      const wanted = photos.findIndex((photo) => (sha256 ? photo.sha256 === sha256 : !byPhoto.has(photo.sha256)));
      index = Math.max(0, wanted);
      status.say("", "soft");
      reveal(dialog);
      dialog.showModal();
      show();
    },
  };
}
