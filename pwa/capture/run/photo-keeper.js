// @ts-check
/**
 * Stores pictures with the tap they belong to. What the storage does not take stays in this
 * page's memory and is tried again.
 */
import { isLog } from "../records/evidence.js";

/** @typedef {import("../storage/rows").NewPhoto} NewPhoto */
/** @typedef {import("../storage/rows").RecordRow} RecordRow */

/** A picture taken this soon after a tap shows what was tapped. */
export const WITH_TAP_MS = 20000;

/** @param {import("./types").PhotoKeeperParts} parts */
export function createPhotoKeeper({ add, session_id, device, standing }) {
  /** @type {NewPhoto[]} */
  let waiting = [];

  /** @param {number} t_ms @returns {RecordRow | null} the tap that this moment belongs to */
  function tapAt(t_ms) {
    const last = standing().findLast((row) => !isLog(row) && row.doc.device === device);
    const age_ms = last ? t_ms - last.doc.t_ms : Infinity;
    return last && age_ms >= 0 && age_ms <= WITH_TAP_MS ? last : null;
  }

  /** @param {NewPhoto} photo */
  async function store(photo) {
    try {
      await add(photo);
    } catch (error) {
      if (!waiting.includes(photo)) waiting.push(photo);
      throw error;
    }
    waiting = waiting.filter((one) => one !== photo);
  }

  return {
    waiting: () => waiting.length,
    /**
     * @param {Promise<import("../phone/types").Picture>} picture @param {number} t_ms of the touch
     * @param {RecordRow} [of] the tap that asked for it, else that of this moment
     * @returns {Promise<RecordRow | null>} the tap it was stored with
     */
    async keep(picture, t_ms, of) {
      const tap = of ?? tapAt(t_ms);
      const { bytes, media_type } = await picture;
      await store({ session_id, event_id: tap?.doc.id ?? null, t_ms: Math.round(t_ms), device, media_type, bytes });
      return tap;
    },
    /** @returns {Promise<boolean>} whether nothing waits any more */
    async retry() {
      for (const photo of [...waiting]) await store(photo).catch(() => {});
      return waiting.length === 0;
    },
  };
}
