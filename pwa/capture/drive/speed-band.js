// @ts-check
/**
 * Whether the driver should be told that the car has left the plan's speed band. Pure.
 *
 * It speaks late and ends early enough to be trusted: a car must be clearly outside for a moment
 * before it says anything, and 'faster' is for a car that was in the band since it last stood, so
 * that neither pulling away nor a bend that is left at once makes it talk.
 */

import { convert, formatNumber, unitOf } from "../../shared/measures.js";

/** @typedef {"slower" | "faster"} Advice */
/** A Doppler speed is good to a few tenths of a km/h; the rest is the driver's foot. */
const CLEARLY_KMH = 2;
/** Two seconds of successive fixes; one odd fix says nothing. */
const CLEARLY_MS = 1500;
const STANDING_KMH = 7;

export function startBandWatch() {
  let wasInBand = false;
  /** @type {Advice | null} */
  let outside = null;
  let since_ms = 0;
  let speaking = false;
  let hushed = false;

  function settle() {
    outside = null;
    speaking = hushed = false;
  }

  return {
    /** @param {import("./types").Pace} pace @returns {Advice | null} what to read to the driver now */
    update({ speed_mps, now_ms, band_kmh, mayGoFaster }) {
      if (speed_mps === null || !band_kmh) {
        settle();
        return null;
      }
      const speed_kmh = speed_mps * 3.6;
      const [low_kmh, high_kmh] = band_kmh;
      if (speed_kmh < STANDING_KMH && low_kmh > STANDING_KMH) wasInBand = false;
      if (speed_kmh >= low_kmh && speed_kmh <= high_kmh) {
        wasInBand = true;
        settle();
        return null;
      }
      /** @type {Advice} */
      const side = speed_kmh > high_kmh ? "slower" : "faster";
      if (side !== outside) {
        settle();
        outside = side;
        since_ms = now_ms;
      }
      const off_kmh = side === "slower" ? speed_kmh - high_kmh : low_kmh - speed_kmh;
      const pointless = side === "faster" && !(wasInBand && mayGoFaster);
      if (pointless) speaking = false;
      if (pointless || (off_kmh < CLEARLY_KMH && !speaking)) since_ms = now_ms;
      speaking ||= now_ms - since_ms >= CLEARLY_MS;
      return speaking && !hushed ? side : null;
    },
    /** Enough said: silent until the car was in the band again. */
    hush() {
      hushed = true;
    },
  };
}

/**
 * In the driver's unit, to be read out as it stands: where to go, never a bare speed that might be
 * taken for it. Who keeps to 'at most' stays in the band.
 * @param {Advice} side @param {number} speed_mps @param {readonly [number, number]} band_kmh
 * @param {import("../../shared/measures.js").Units} units
 * @returns {import("./types").Words}
 */
export function bandWords(side, speed_mps, [low_kmh, high_kmh], units) {
  const shown = (/** @type {number} */ mps) => convert("speed", mps, units);
  const main = side === "slower" ? `at most ${Math.floor(shown(high_kmh / 3.6) + 1e-9)}`
    : `at least ${Math.round(shown(low_kmh / 3.6))}`;
  return {
    kind: "band",
    lead: `Read to driver: ${side},`,
    main,
    rest: `${unitOf("speed", units)} · now ${formatNumber(shown(speed_mps), 0)}`,
  };
}
