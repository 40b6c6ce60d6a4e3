// @ts-check
/** A day and a time as the session's own clock had them, whatever zone this desk is in. */

/**
 * @param {string | null} stamp RFC 3339
 * @returns {{ day: string, time: string }}
 */
export function writtenDay(stamp) {
  const match = /^(\d{4})-(\d\d)-(\d\d)T(\d\d:\d\d)/.exec(stamp ?? "");
  if (!match) return { day: "not driven yet", time: "" };
  const day = new Date(Date.UTC(Number(match[1]), Number(match[2]) - 1, Number(match[3])));
  const words = new Intl.DateTimeFormat("en-GB", { timeZone: "UTC", day: "numeric", month: "short", year: "numeric" }).format(day);
  return { day: words, time: match[4] ?? "" };
}
