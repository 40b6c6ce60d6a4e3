// @ts-check
/** Spoken notes: kept as photos are, heard instead of looked at. */
import { formatNumber } from "../../shared/units.js";
import { el } from "../page/dom.js";

/** @typedef {import("./documents").RawPhoto} RawPhoto */
/** @typedef {{ url: string, event: string | null, atMs: number | null }} Spoken */

/** @param {RawPhoto} photo */
export const isSound = ({ media_type: type }) => type?.startsWith("audio/") ?? false;

/** How many photos, and how many spoken notes. @param {RawPhoto[]} photos @returns {string[]} */
export function keptWords(photos) {
  const notes = photos.filter(isSound).length;
  const count = (/** @type {number} */ n, /** @type {string} */ one) => (n === 0 ? [] : [n === 1 ? `1 ${one}` : `${formatNumber(n, 0)} ${one}s`]);
  return [...count(photos.length - notes, "photo"), ...count(notes, "spoken note")];
}

/**
 * @param {string} id of the session
 * @param {RawPhoto[]} photos
 * @param {(device: string) => number} offset
 * @returns {Spoken[]} in order of their moments
 */
export function spokenIn(id, photos, offset) {
  return photos.filter(isSound).map(({ sha256, t_ms, device, event }) => ({
    url: `/api/sessions/${encodeURIComponent(id)}/photos/${sha256}`,
    event: event ?? null, atMs: typeof t_ms === "number" ? t_ms + offset(device ?? "") : null,
  })).sort((a, b) => (a.atMs ?? Infinity) - (b.atMs ?? Infinity));
}

/** @param {Spoken} note @param {string} name what a screen reader calls it */
export const player = ({ url }, name) =>
  el("audio", { class: "player", controls: true, preload: "none", src: url, "aria-label": name });
