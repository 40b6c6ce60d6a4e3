// @ts-check
/**
 * Turns taps into records of one session. A method resolves when the record is durable on this
 * phone; only then may the screen say so. Nothing here changes or deletes a record: undo and
 * later details are new records that name the one they replace.
 */
import { standing } from "./evidence.js";

/** @typedef {import("../phone/types").Stamp} Stamp */
/** @typedef {import("../storage/rows").RecordRow} RecordRow */
/** @typedef {import("./types").Detail} Detail */
/** @typedef {import("./types").Recorder} Recorder */

/** Of a session that is not being driven. @param {Omit<import("./types").RecorderParts, "rows" | "alongM">} parts */
export const parkedRecorder = async (parts) =>
  startRecorder({ ...parts, rows: await parts.store.records(parts.session), alongM: () => null });

/** @param {import("./types").RecorderParts} parts */
export function startRecorder({ store, session, device, rows, newId, stamp, alongM, onChange }) {
  /** @type {RecordRow[]} refused by the storage: kept in memory and tried again */
  let failed = [];
  let retrying = false;

  /**
   * @param {RecordRow["type"]} type @param {Record<string, any>} fields @param {Stamp} at
   * @param {"unsent" | "draft"} [state]
   * @returns {RecordRow}
   */
  function row(type, fields, at, state = "unsent") {
    const id = newId();
    const taken = { t_ms: at.t_ms, wall_ms: at.wall_ms, mono_ms: at.mono_ms, page: at.page };
    const doc = { id, device, ...taken, ...fields };
    // a clock set back over a reload must not shuffle the order
    const stored_ms = Math.max(stamp().t_ms, (rows.at(-1)?.stored_ms ?? 0) + 1);
    return { id, session, type, state, doc, stored_ms, along_m: alongM() };
  }

  /** Once, even where `refresh` has found it in the storage already. @param {RecordRow} made */
  function list(made) {
    const at = rows.findIndex((row) => row.id === made.id);
    if (at < 0) rows.push(made);
    else rows[at] = made;
  }

  /** @param {RecordRow} made */
  async function keep(made) {
    try {
      await store.addRecord(made);
    } catch (error) {
      failed.push(made);
      throw error;
    }
    list(made);
    onChange();
    return made;
  }

  /** A try that seemed to fail may have stored it after all. @param {RecordRow} made */
  async function addUnlessThere(made) {
    try {
      await store.addRecord(made);
    } catch (error) {
      if (!(error instanceof DOMException && error.name === "ConstraintError")) throw error;
    }
  }

  /** @param {string} kind @param {Detail} [detail] */
  const eventFields = (kind, { text = null, value = null, unit = null } = {}) =>
    ({ kind, text, value, unit, tap_delay_s: null, corrects: null });

  /** What an event said, and when, once more. @param {RecordRow} said @param {Record<string, any>} now */
  function again(said, now) {
    const { id: _, device: _device, t_ms, wall_ms, mono_ms, page, ...words } = said.doc;
    const fixed = row("event", { ...words, ...now }, { t_ms, wall_ms, mono_ms, page });
    fixed.along_m = said.along_m;
    return keep(fixed);
  }

  /** @type {Recorder} */
  const recorder = {
    rows: () => rows,
    standing: () => standing(rows),
    failed: () => failed.length,
    unstored: () => failed,

    async refresh() {
      const known = new Set(rows.map((made) => made.id));
      const others = (await store.records(session)).filter((made) => !known.has(made.id));
      if (!others.length) return;
      rows.push(...others);
      rows.sort((a, b) => a.stored_ms - b.stored_ms);
      onChange();
    },

    async retry() {
      if (retrying) return;
      retrying = true;
      for (const made of [...failed]) {
        try {
          await addUnlessThere(made);
          // what was there may be its draft, finished since
          if (made.state !== "draft") await store.finishDraft(made.id, made.doc);
        } catch {
          continue;
        }
        failed = failed.filter((one) => one !== made);
        list(made);
        onChange();
      }
      retrying = false;
    },

    tap: (kind, at, detail) => keep(row("event", eventFields(kind, detail), at)),
    draft(kind, at) {
      const made = row("event", eventFields(kind), at, "draft");
      return { made, stored: keep(made) };
    },
    async finish(made, detail = {}) {
      const doc = { ...made.doc, ...detail };
      if (failed.includes(made)) {
        Object.assign(made, { doc, state: "unsent" });
        return null;
      }
      let ours = false;
      try {
        ours = await store.finishDraft(made.id, doc);
      } catch {
        failed.push(made);
        Object.assign(made, { doc, state: "unsent" });
        return null;
      }
      made.state = "unsent";
      if (ours) made.doc = doc;
      // another tab took it for a leftover and finished it without the detail
      else if (Object.keys(detail).length) return this.correct(made, detail);
      onChange();
      return made;
    },
    async finishLeftovers() {
      for (const made of rows.filter((one) => one.state === "draft")) await this.finish(made);
    },
    reading: ({ quantity, value, unit, resolution, about = false }, at) =>
      keep(row("reading", {
        quantity, value, unit, resolution,
        rounding: "nearest", source: "pad", photo: null, corrects: null, ...(about ? { about } : {}),
      }, at)),
    correct: (made, detail) => again(made, { corrects: made.id, ...detail }),
    undo(made) {
      const before = rows.find(({ id }) => id === made.doc.corrects);
      return before ? again(before, { corrects: made.id }) : this.withdraw(made);
    },
    withdraw(made) {
      const at = stamp();
      if (made.type === "reading") {
        const { quantity, unit, resolution, rounding, source } = made.doc;
        return keep(row("reading", {
          quantity, value: null, unit, resolution, rounding, source,
          photo: null, corrects: made.id,
        }, at));
      }
      return keep(row("event", {
        ...eventFields("note", { text: "withdrawn" }), corrects: made.id, withdraws: true,
      }, at));
    },
    log: (text, log, facts) =>
      keep(row("event", { ...eventFields("note", { text }), log, ...facts }, stamp())).catch(() => null),
  };
  return recorder;
}
