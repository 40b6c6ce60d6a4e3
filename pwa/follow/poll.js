// @ts-check
/** Asks how the run stands: every second, less often while nobody answers. */

export const EVERY_MS = 1000;
const LONGEST_MS = 3000;
const PATIENCE_MS = 5000;

/**
 * @typedef {object} Live
 * @property {number} server_ms
 * @property {number} cursor
 * @property {{ lat: number, lon: number, accuracy_m: number | null, speed_mps: number | null, t_ms: number } | null} position
 * @property {[number, number][]} trail
 * @property {{ id: string, kind: string, t_ms: number, text?: string | null, value?: number | null, unit?: string | null } | null} last_event
 * @property {{ kind: string, t_ms: number, event_id: string }[]} alerts
 * @property {{ basis: "zero_soc" | "zero_range" | "moment", t_ms: number } | null} zero what is counted from
 * @property {import("../shared/units.js").Quantity | null} past_zero_m
 * @property {import("../shared/units.js").Quantity | null} energy_past_zero_kwh
 * @property {{ label?: string | null, gate?: { lat: number, lon: number, heading_deg: number, half_width_m: number } | null }} course
 * @property {string | null} vehicle_label
 */

/**
 * @param {import("./ticket.js").Ticket} ticket
 * @param {object} on
 * @param {(live: Live) => void} on.news
 * @param {() => void} on.answer any answer of our server, news or none
 * @param {(message: string, reason: string) => void} on.shut the server said no, and asking again won't help
 */
export function follow(ticket, on) {
  let tag = "";
  let wait_ms = EVERY_MS;
  let stopped = false;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;

  async function ask() {
    /** @type {Record<string, string>} */
    const headers = {};
    if (tag) headers["If-None-Match"] = tag;
    if (ticket.token) headers.Authorization = `Bearer ${ticket.token}`;
    const answer = await fetch(`/api/sessions/${ticket.session}/live`, {
      headers, cache: "no-store", redirect: "error", signal: AbortSignal.timeout(PATIENCE_MS),
    });
    if (answer.status === 304) return on.answer();
    const told = await answer.json(); // a captive portal's page is no JSON: as good as no answer
    if ([401, 403, 404].includes(answer.status)) {
      stopped = true;
      on.shut(String(told.message ?? "This run can't be followed."), String(told.reason ?? ""));
      return;
    }
    if (!answer.ok) throw new Error(`the server answered ${answer.status}`);
    tag = answer.headers.get("ETag") ?? "";
    on.answer();
    on.news(told);
  }

  async function turn() {
    try {
      await ask();
      wait_ms = EVERY_MS;
    } catch {
      wait_ms = Math.min(2 * wait_ms, LONGEST_MS);
    }
    if (!stopped) timer = setTimeout(() => void turn(), wait_ms);
  }

  void turn();
  return {
    /** The network or the page is back: ask now. */
    hurry() {
      if (stopped) return;
      clearTimeout(timer);
      wait_ms = EVERY_MS;
      timer = setTimeout(() => void turn());
    },
  };
}
