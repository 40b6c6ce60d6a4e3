// @ts-check
/**
 * What the others of a session recorded, as this phone sees it: by its own clock and its own
 * running distance, beside its own records and never among them. Pure.
 */

/** @typedef {import("../storage/rows").RecordRow} RecordRow */
/** @typedef {import("./types").Told} Told */

const BEGINNING = "0.0";

/** @param {{ session: string, device: string, alongAt: (t_ms: number) => number | null }} parts */
export function createOthers({ session, device, alongAt }) {
  let until = BEGINNING;
  /** @type {Told["devices"]} */
  let devices = [];
  /** @type {Map<string, Pick<RecordRow, "type" | "doc">>} as they came, by id */
  const came = new Map();
  /** @type {RecordRow[]} */
  let rows = [];

  /** What a device's stamps are off this phone's. @param {string} of */
  function shift_ms(of) {
    const offset_ms = (/** @type {string} */ id) => devices.find((one) => one.id === id)?.clock_offset_ms ?? 0;
    return Math.round(offset_ms(of) - offset_ms(device));
  }

  /** @param {Pick<RecordRow, "type" | "doc">} record @returns {RecordRow} */
  function row({ type, doc }) {
    const t_ms = doc.t_ms + shift_ms(doc.device);
    return { id: doc.id, session, type, state: "held", doc: { ...doc, t_ms }, stored_ms: t_ms, along_m: null };
  }

  return {
    until: () => until,
    /** @returns {Told} all that was told so far */
    told() {
      const all = [...came.values()];
      const ofType = (/** @type {string} */ type) => all.filter((one) => one.type === type).map(({ doc }) => doc);
      return { since: BEGINNING, until, devices, events: ofType("event"), readings: ofType("reading") };
    },
    /** @param {Told} told @returns {RecordRow[]} what is new of it, in order of its moments */
    take(told) {
      const known = new Set(came.keys());
      if (told.since === BEGINNING) came.clear();
      for (const doc of told.events) came.set(doc.id, { type: "event", doc });
      for (const doc of told.readings) came.set(doc.id, { type: "reading", doc });
      ({ until, devices } = told);
      rows = [...came.values()].map(row).sort(byMoment);
      return rows.filter(({ id }) => !known.has(id));
    },
    /** @param {RecordRow[]} own in the order taken @returns {RecordRow[]} with the others' where their moments are */
    beside(own) {
      for (const one of rows) one.along_m ??= alongAt(one.doc.t_ms);
      return rows.length ? [...own, ...rows].sort(byMoment) : own;
    },
    /** Who recorded it; empty: this phone. @param {RecordRow} row */
    who({ doc: { device: by } }) {
      if (by === device) return "";
      if (by === "desk") return "Desk";
      return devices.find(({ id }) => id === by)?.label || `Phone ${by.slice(-4)}`;
    },
  };
}

/** @param {RecordRow} a @param {RecordRow} b */
const byMoment = (a, b) => a.stored_ms - b.stored_ms;
