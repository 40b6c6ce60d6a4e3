// @ts-check
/**
 * Turns taps into records of one session. A method resolves when the record is durable on this
 * phone; only then may the screen say so. Nothing here changes or deletes a record: undo and
 * later details are new records that name the one they replace.
 */
import { isLog, standing } from "./evidence.js";

/** @typedef {import("./clock.js").Stamp} Stamp */
/** @typedef {import("./store.js").RecordRow} RecordRow */
/** @typedef {import("./recording").Detail} Detail */
/** @typedef {import("./recording").ReadingInput} ReadingInput */

/** @param {import("./recording").RecorderParts} parts */
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

  return {
    /** Every stored record, in the order taken; read only. */
    rows: () => rows,
    /** What still stands of it. */
    standing: () => standing(rows),
    /** Taken but not durable: the screen must say so. */
    failed: () => failed.length,
    /** @returns {readonly RecordRow[]} those: they belong into a file saved now */
    unstored: () => failed,

    /** Take in what another tab of this phone has recorded meanwhile. */
    async refresh() {
      const known = new Set(rows.map((made) => made.id));
      const others = (await store.records(session)).filter((made) => !known.has(made.id));
      if (!others.length) return;
      rows.push(...others);
      rows.sort((a, b) => a.stored_ms - b.stored_ms);
      onChange();
    },

    /** Try again what could not be stored, for example when the storage was full. */
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

    /** @param {string} kind @param {Stamp} at @param {Detail} [detail] */
    tap: (kind, at, detail) => keep(row("event", eventFields(kind, detail), at)),
    /**
     * Keep a moment whose detail is about to be chosen; it is sent once finished.
     * @param {string} kind @param {Stamp} at
     * @returns {{ made: RecordRow, stored: Promise<RecordRow> }}
     */
    draft(kind, at) {
      const made = row("event", eventFields(kind), at, "draft");
      return { made, stored: keep(made) };
    },
    /**
     * @param {RecordRow} made @param {Detail} [detail]
     * @returns {Promise<RecordRow | null>} what holds the detail, once it is durable; null when
     *   it is kept in memory and tried again
     */
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
    /** Drafts left by a page that was closed: the moment counts, its detail can follow. */
    async finishLeftovers() {
      for (const made of rows.filter((one) => one.state === "draft")) await this.finish(made);
    },
    /** @param {ReadingInput} input @param {Stamp} at */
    reading: ({ quantity, value, unit, resolution }, at) =>
      keep(row("reading", {
        quantity, value, unit, resolution,
        rounding: "nearest", source: "pad", photo: null, corrects: null,
      }, at)),
    /**
     * Say more about an event, or say it right.
     * @param {RecordRow} made @param {Detail} detail
     */
    correct(made, detail) {
      const { id: corrects, kind, text, value, unit, tap_delay_s, t_ms, wall_ms, mono_ms, page } = made.doc;
      const at = { t_ms, wall_ms, mono_ms, page };
      const fixed = row("event", { kind, text, value, unit, tap_delay_s, ...detail, corrects }, at);
      fixed.along_m = made.along_m;
      return keep(fixed);
    },
    /** @param {RecordRow} made */
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
    /** @returns {RecordRow | null} what undo would take back */
    last: () => standing(rows).findLast((made) => !isLog(made)) ?? null,
    /**
     * The phone's own log: a gap in the fixes, a step of the clock. What the storage does not
     * take is kept in memory and tried again, as a tap is.
     * @param {string} text @param {string} log @param {Record<string, unknown>} facts
     */
    log: (text, log, facts) =>
      keep(row("event", { ...eventFields("note", { text }), log, ...facts }, stamp())).catch(() => null),
  };
}

/** @typedef {ReturnType<typeof startRecorder>} Recorder */
