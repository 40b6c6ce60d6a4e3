// @ts-check
/** Clock time as the session's people read it: its own time zone, never the desk's. */

/**
 * @typedef {object} SessionClock
 * @property {(tMs: number, decimals?: number) => string} time "15:04:12" or "15:04:12.3"
 * @property {(tMs: number) => string} date "2 March 2026"
 * @property {(tMs: number) => number} offsetMs add to UTC to get local
 * @property {(text: string, nearMs: number) => number | null} parse the day is the one that puts
 *   the moment nearest to `nearMs`; null when the text is no time
 * @property {string} zone as shown
 */

const DAY_MS = 86_400_000;

/**
 * @param {string | null | undefined} timeZone IANA name
 * @param {string | null | undefined} startedAt RFC 3339; its offset serves when there is no zone
 * @returns {SessionClock}
 */
export function sessionClock(timeZone, startedAt) {
  /** @type {Intl.DateTimeFormat | null} */
  let parts = null;
  try {
    parts = new Intl.DateTimeFormat("en-GB", {
      timeZone: timeZone ?? "", hourCycle: "h23", year: "numeric", month: "numeric",
      day: "numeric", hour: "numeric", minute: "numeric", second: "numeric",
    });
  } catch {
    // no zone, or one this browser doesn't know: the start's own offset is the next best
  }
  const stated = /([+-])(\d\d):(\d\d)$/.exec(startedAt ?? "");
  const fixedMs = stated
    ? (stated[1] === "-" ? -1 : 1) * (Number(stated[2]) * 60 + Number(stated[3])) * 60_000
    : 0;

  /** @param {number} tMs */
  const offsetMs = (tMs) => {
    if (!parts) return fixedMs;
    /** @type {Record<string, number>} */
    const at = {};
    for (const { type, value } of parts.formatToParts(tMs)) at[type] = Number(value);
    const local = Date.UTC(
      at.year ?? 0, (at.month ?? 1) - 1, at.day, at.hour, at.minute, at.second);
    return local - Math.floor(tMs / 1000) * 1000;
  };
  /** @param {number} tMs */
  const local = (tMs) => new Date(tMs + offsetMs(tMs));

  return {
    zone: parts ? String(timeZone) : stated ? `UTC${stated[0]}` : "UTC",
    offsetMs,
    time(tMs, decimals = 0) {
      const step = 10 ** (3 - decimals);
      return local(Math.round(tMs / step) * step).toISOString().slice(11, 19 + (decimals && decimals + 1));
    },
    date: (tMs) =>
      new Intl.DateTimeFormat("en-GB", { timeZone: "UTC", day: "numeric", month: "long", year: "numeric" })
        .format(local(tMs)),
    parse(text, nearMs) {
      const match = /^\s*(\d{1,2})[:.](\d{2})(?:[:.](\d{2})([.,]\d{1,3})?)?\s*$/.exec(text);
      if (!match) return null;
      const [hour, minute, second] = [1, 2, 3].map((i) => Number(match[i] ?? 0));
      if (hour === undefined || minute === undefined || second === undefined) return null;
      if (hour > 23 || minute > 59 || second > 59) return null;
      const dayMs = ((hour * 60 + minute) * 60 + second) * 1000
        + Math.round(Number((match[4] ?? "0").replace(",", ".")) * 1000);
      const offset = offsetMs(nearMs);
      const midnight = Math.floor((nearMs + offset) / DAY_MS) * DAY_MS - offset;
      const candidates = [-1, 0, 1].map((day) => midnight + day * DAY_MS + dayMs);
      return candidates.reduce((best, candidate) =>
        Math.abs(candidate - nearMs) < Math.abs(best - nearMs) ? candidate : best);
    },
  };
}

/**
 * How far each device's clock is from session time; add to its `t_ms`. The set-up's figure goes
 * first, then the clock check with the shortest round trip, as in the exported session file.
 * @param {import("./documents").SessionDocument} session
 * @returns {(device: string) => number} milliseconds
 */
export function clockOffsets(session) {
  /** @type {Map<string, number>} */
  const offsets = new Map();
  const checks = [...(session.clock_checks ?? [])].sort((a, b) => b.round_trip_ms - a.round_trip_ms);
  for (const check of checks) offsets.set(check.device, check.offset_ms);
  for (const device of session.setup.devices ?? []) {
    if (typeof device.clock_offset_ms === "number") offsets.set(device.id, device.clock_offset_ms);
  }
  return (device) => offsets.get(device) ?? 0;
}
