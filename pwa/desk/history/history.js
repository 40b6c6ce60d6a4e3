// @ts-check
/** The history: who changed what, when and why; each change reversible by a new one. */
import { ApiError, request } from "../../shared/api.js";
import { recordMaker, save, SaveConflict } from "../evidence/save.js";
import { createWriterField, writer } from "../evidence/writer.js";
import { el } from "../page/dom.js";
import { createFormStatus } from "../page/form-status.js";
import { keepingFocus, working } from "../page/keep-focus.js";
import { changesOf } from "./changes.js";

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {import("./changes.js").Change} Change */

const SHOWN = 25;

/**
 * @param {() => Promise<void>} onChanged
 * @param {(stretch: import("../session/documents").Exclusion) => void} onLeaveOut fixes, tried before it is kept
 */
export function createHistory(onChanged, onLeaveOut) {
  /** @type {Model | null} */
  let model = null;
  let all = false;
  const make = recordMaker();
  const status = createFormStatus();
  const list = el("ol", { class: "changes" });
  const more = el("button", {
    type: "button", class: "quiet", onclick: () => {
      all = true;
      void show();
    },
  });
  const element = el("div", { class: "history" }, el("div", { class: "history-bar" }, createWriterField("history-writer"), status.element), list, more);

  async function show() {
    if (!model) return;
    const asked = model;
    let revisions = [];
    try {
      revisions = (await request(`/sessions/${encodeURIComponent(asked.id)}/revisions`)).revisions;
    } catch (error) {
      status.say(`Earlier choices can\u2019t be listed: ${error instanceof Error ? error.message : error}`, "alarm");
    }
    if (model !== asked) return;
    const changes = changesOf(asked.session, revisions, asked.clock);
    keepingFocus(list, () => list.replaceChildren(...changes.slice(0, all ? undefined : SHOWN).map((change) => line(change, asked))));
    more.hidden = all || changes.length <= SHOWN;
    more.textContent = `Show all ${changes.length}`;
  }

  /** @param {Change} change @param {Model} of */
  function line(change, of) {
    const atMs = Date.parse(change.at ?? "");
    return el("li", { class: "change" },
      el("span", { class: "change-when" }, Number.isNaN(atMs) ? "time not noted" : new Intl.DateTimeFormat("en-GB", { dateStyle: "medium", timeStyle: "short" }).format(atMs),
        el("span", { class: "row-detail" }, change.by)),
      el("span", { class: "change-what" }, el("b", {}, change.verb), ` ${change.words}`,
        change.before && el("span", { class: "change-sides" }, el("s", {}, change.before), " \u2192 ", change.after ?? ""),
        ...(change.parts ?? []).map(([name, was, now]) => el("span", { class: "change-sides" }, `${name}: `, el("s", {}, was), " \u2192 ", now)),
        change.reason && el("span", { class: "change-reason" }, `\u201c${change.reason}\u201d`)),
      way(change, of));
  }

  /** @param {Change} change @param {Model} of what takes it back, or why nothing does */
  function way(change, of) {
    const { undo, leaveOut } = change;
    if (leaveOut) {
      return el("button", {
        type: "button", class: "quiet small", "aria-label": `Leave out what came with ${change.words}`, onclick: () => onLeaveOut(leaveOut),
      }, "Leave it out\u2026");
    }
    if (undo) {
      return el("button", {
        type: "button", class: "quiet small", "aria-label": `Take back: ${change.verb} ${change.words}`,
        onclick: (/** @type {MouseEvent} */ event) => void working(/** @type {HTMLButtonElement} */ (event.currentTarget), () => reverse(change, of)),
      }, "Take back");
    }
    return el("span", { class: "soft change-later" }, change.verb === "Planned" || change.sort === "file" ? "" : "changed again later");
  }

  /** @param {Change} change @param {Model} of */
  async function reverse(change, of) {
    if (!change.undo) return;
    status.say("Taking it back\u2026", "soft");
    try {
      if (change.undo.sort === "setup") {
        await request(`/sessions/${encodeURIComponent(of.id)}`, {
          method: "PUT", body: {
            base: of.session.revision,
            setup: { ...change.undo.setup, revised: { by: writer(), reason: "taken back in the history" } },
          },
        });
      } else {
        await save(of.id, { [change.undo.sort]: [make(change.undo.content)] });
      }
    } catch (error) {
      const late = error instanceof SaveConflict || (error instanceof ApiError && error.status === 409);
      status.say(late ? "Not taken back: somebody else has changed it meanwhile. The history below is fresh now." : `Not taken back: ${error instanceof Error ? error.message : error}`, "alarm");
      if (late) await onChanged();
      return;
    }
    status.say(`Taken back: ${change.verb.toLowerCase()} ${change.words}. The figures follow.`, "good");
    await onChanged();
  }

  return {
    element,
    /** @param {Model} next */
    update(next) {
      model = next;
      void show();
    },
  };
}
