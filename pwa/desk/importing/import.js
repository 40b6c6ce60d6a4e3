// @ts-check
/** Bringing things in by dropping or choosing files, and saying plainly what came of each. */
import { eventName } from "../../shared/vocabulary.js";
import { el } from "../page/dom.js";
import { createAccount } from "./account.js";
import { createDropZone } from "./drop.js";
import { takeEvidence } from "./evidence-file.js";
import { ACCEPTED, kindOf } from "./kinds.js";
import { takePhotos } from "./photos.js";
import { takeSessionFile } from "./session-file.js";

/** @typedef {import("./documents").Target} Target */

/**
 * On the list of sessions: a session file makes or completes its session, evidence asks where to.
 * @param {() => Promise<void>} onImported
 */
export function createImport(onImported) {
  const intake = createIntake(() => null, onImported);
  const zone = createDropZone({
    words: "Drop files here", accept: ACCEPTED, onFiles: intake.take,
    hint: "Session files (.ebbline.json, or .ebbline.zip with photos), GPX tracks, CSV logs. The same file twice changes nothing.",
  });
  const element = el("section", { class: "import", "aria-labelledby": "import-title" },
    el("h2", { id: "import-title" }, "Import a session"), zone, intake.accounts);
  return { element };
}

/**
 * On a session's page: tracks, logs and photos of this session.
 * @param {string} id session
 * @param {() => Promise<void>} onImported
 */
export function createBringIn(id, onImported) {
  /** @type {Target | null} */
  let target = null;
  const intake = createIntake(() => target, onImported);
  const zone = createDropZone({
    words: "Drop photos, tracks or logs here", accept: ACCEPTED, onFiles: (files) => target && intake.take(files),
    hint: "JPEG, PNG, WebP or HEIC; GPX tracks; CSV logs. All become evidence of this session, beside what it has.",
  });
  return {
    element: el("div", { class: "bring-in" }, zone, intake.accounts),
    /** @param {import("../session/model.js").Model} model */
    update(model) {
      const { time_zone: timeZone } = model.session.setup.session ?? {};
      target = {
        id, clock: model.clock, zone: timeZone ?? null,
        nearMs: model.result.zero.t_ms ?? model.events[0]?.atMs ?? model.curves.t_ms[0] ?? Date.now(),
        events: model.events.filter(({ withdrawn }) => !withdrawn)
          .map(({ atMs, record }) => ({ atMs, words: record.text ? `${eventName(record.kind)}: ${record.text}` : eventName(record.kind) })),
      };
    },
  };
}

/**
 * @param {() => Target | null} target
 * @param {() => Promise<void>} onImported
 */
function createIntake(target, onImported) {
  const accounts = el("ul", { class: "import-accounts" });

  /** @param {File} file */
  function refuse(file) {
    const account = createAccount(file.name);
    account.bad("This kind of file can\u2019t be imported. Session files (.json, .zip), GPX and CSV can; photos too, on a session\u2019s page.");
    return account.element;
  }

  /** @param {File} file */
  function one(file) {
    const kind = kindOf(file);
    if (kind === "session") return takeSessionFile(file, onImported);
    if (kind === "gpx" || kind === "csv") return takeEvidence(file, kind, target, onImported);
    if (kind === "photo") {
      const account = createAccount(file.name);
      account.bad("A photo belongs to a session: open the session and drop it there.");
      return account.element;
    }
    return refuse(file);
  }

  return {
    accounts,
    /** @param {File[]} files */
    take(files) {
      const session = target();
      const photos = session ? files.filter((file) => kindOf(file) === "photo") : [];
      for (const file of files.filter((each) => !photos.includes(each))) accounts.prepend(one(file));
      if (photos.length > 0) accounts.prepend(takePhotos(photos, () => /** @type {Target} */ (target()), onImported));
    },
  };
}
