// @ts-check
/** All sessions at a glance, how to find one, and the way in for a session file. */
import { request } from "../shared/api.js";
import { createImport } from "./importing/import.js";
import { createDuplicate } from "./list/duplicate.js";
import { createFilters } from "./list/filters.js";
import { sessionTable } from "./list/session-table.js";
import { el } from "./page/dom.js";
import { createFormStatus } from "./page/form-status.js";

/** @typedef {import("./session/documents").SessionRow} SessionRow */

/**
 * @param {import("../shared/units.js").Units} firstUnits
 */
export function createSessionList(firstUnits) {
  let units = firstUnits;
  /** @type {SessionRow[] | null} */
  let rows = null;
  let asked = 0;
  const host = el("div", { class: "session-table", "aria-busy": "true" },
    ...Array.from({ length: 4 }, () => el("div", { class: "row-waiting" })));
  const count = el("p", { class: "session-facts", role: "status" }, "\u00a0");
  const filters = createFilters(() => void load());
  const status = createFormStatus();
  const next = createDuplicate(load);
  const importer = createImport(load);
  const element = el("div", { class: "list" },
    el("header", { class: "session-head" }, el("div", {}, el("h1", {}, "Sessions"), count)),
    filters.element,
    el("div", { class: "list-layout" }, el("div", {}, host, status.element), importer.element), next.element);

  function show() {
    if (!rows) return;
    const narrowed = filters.asked().size > 0;
    count.textContent = `${rows.length === 1 ? "1 session" : `${rows.length} sessions`}${narrowed ? " found" : ""}`;
    host.setAttribute("aria-busy", "false");
    host.replaceChildren(rows.length > 0 ? sessionTable(rows, units, { onArchive: (row) => void archive(row), onNext: next.open })
      : narrowed ? el("div", { class: "empty-page" }, el("h2", {}, "Nothing of that kind"), el("p", {}, "Sessions put away are only found when they are asked for."))
        : el("div", { class: "empty-page" }, el("h2", {}, "Nothing recorded yet"),
          el("p", {}, "Record a session with the phone page, or import a session file."),
          el("p", {}, el("a", { href: "/capture" }, "Open the phone page"))));
  }

  /** @param {SessionRow} row */
  async function archive(row) {
    const name = row.title || row.vehicle_label || "The session";
    try {
      await request(`/sessions/${encodeURIComponent(row.id)}/archived`, { method: "PUT", body: { archived: !row.archived } });
    } catch (error) {
      status.say(`Nothing changed: ${error instanceof Error ? error.message : error}`, "alarm");
      return;
    }
    status.say(row.archived ? `${name} is in use again.` : `${name} is put away, not deleted: choose \u201cput away\u201d above to see it.`, "good");
    await load();
  }

  async function load() {
    const mine = (asked += 1);
    try {
      const query = filters.asked();
      const found = (await request(`/sessions${query.size ? `?${query}` : ""}`, { timeoutMs: 120_000 })).sessions;
      if (mine !== asked) return; // a later question was asked meanwhile
      rows = found;
      filters.offer(found);
      show();
      if (found.some((/** @type {SessionRow} */ row) => row.worked_out === false)) window.setTimeout(() => mine === asked && void load(), 1000);
    } catch (error) {
      if (mine !== asked) return;
      host.setAttribute("aria-busy", "false");
      host.replaceChildren(el("div", { class: "trouble", role: "alert" },
        el("h2", {}, "The sessions can\u2019t be listed"),
        el("p", {}, error instanceof Error ? error.message : String(error)),
        el("p", {}, el("button", { type: "button", class: "primary", onclick: () => void load() }, "Try again"))));
    }
  }

  void load();
  return {
    element,
    /** @param {import("../shared/units.js").Units} next */
    setUnits(next) {
      units = next;
      show();
    },
  };
}
