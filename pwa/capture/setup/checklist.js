// @ts-check
/**
 * The checklist's ticks as records: each with its time and place, taken back by another record,
 * never overwritten. They are notes of the phone's own log, so that they travel like any event.
 */
import { parkedRecorder } from "../records/recorder.js";

/** @typedef {import("./view-checklist.js").Item} Item */

/** @param {import("./types").ChecklistLogParts} parts */
export async function openChecklistLog({ store, session, device, newId, stamp, here, onChange }) {
  const recorder = await parkedRecorder({ store, session, device, newId, stamp, onChange });
  return {
    /** Items that stand ticked on this phone. */
    ticked() {
      /** @type {Set<string>} */
      const ticked = new Set();
      for (const { doc } of recorder.rows()) {
        if (doc.log !== "checklist" || doc.device !== device) continue;
        if (doc.checklist.ticked) ticked.add(doc.checklist.item);
        else ticked.delete(doc.checklist.item);
      }
      return ticked;
    },
    /** @param {Item} item @param {boolean} ticked */
    async tick({ id: item, text }, ticked) {
      const coords = here()?.coords;
      const place = { lat: coords?.latitude ?? null, lon: coords?.longitude ?? null, accuracy_m: coords?.accuracy ?? null };
      const words = ticked ? `Checklist: ${text}` : `Checklist, undone: ${text}`;
      const made = await recorder.log(words, "checklist", { checklist: { item, ticked, ...place } });
      if (!made) throw new Error("not stored");
    },
    /**
     * Somebody starts all the same.
     * @param {string} without in words @param {import("./types").GateLine[]} lines
     */
    startedWithout: (without, lines) => recorder.log(`Started with ${without}`, "start_gate", {
      start_gate: Object.fromEntries(lines.map(({ name, state }) => [name.toLowerCase(), state])),
    }),
  };
}
