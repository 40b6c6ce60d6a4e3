// @ts-check
/** All sessions at a glance, how to find one, what to do with several, and the way in for files. */
import { request } from "../shared/api.js";
import { formatNumber } from "../shared/units.js";
import { createImport } from "./importing/import.js";
import { createCampaignForm } from "./list/campaign-form.js";
import { createDuplicate } from "./list/duplicate.js";
import { createFilters } from "./list/filters.js";
import { createOrder } from "./list/order.js";
import { LINES, createPager } from "./list/pager.js";
import { createPublishMany } from "./list/publish-many.js";
import { createRenewal } from "./list/renewal.js";
import { createSelection } from "./list/selection.js";
import { sessionTable } from "./list/session-table.js";
import { el } from "./page/dom.js";
import { createFormStatus } from "./page/form-status.js";
import { saveFrom } from "./page/save-file.js";

/** @typedef {import("./session/documents").SessionRow} SessionRow */

/**
 * @param {import("../shared/units.js").Units} firstUnits
 */
export function createSessionList(firstUnits) {
  let units = firstUnits;
  /** @type {import("./session/documents").Listing | null} */
  let listing = null;
  let asked = 0;
  const host = el("div", { class: "session-table", "aria-busy": "true" },
    ...Array.from({ length: 4 }, () => el("div", { class: "row-waiting" })));
  const count = el("p", { class: "session-facts", role: "status" }, "\u00a0");
  const filters = createFilters(again);
  const order = createOrder(again);
  const pager = createPager(() => {
    remember();
    void load();
  });
  const renewal = createRenewal(load);
  const status = createFormStatus();
  const next = createDuplicate(load);
  const importer = createImport(async () => {
    void filters.offer().catch(() => undefined);
    await load();
  });
  const publish = createPublishMany(load);
  const shown = el("a", { hidden: true }, "Open the campaign");
  const campaign = createCampaignForm((saved) => {
    shown.href = `/desk?campaign=${encodeURIComponent(saved.id)}`;
    shown.hidden = false;
    status.say(`Saved as campaign \u201c${saved.name}\u201d, ${saved.session_ids.length === 1 ? "1 session" : `${saved.session_ids.length} sessions`}.`, "good");
    void filters.offer().catch(() => undefined);
  });
  const selection = createSelection({
    onTable: () => void saveTable(), onPublish: () => publish.open(selection.ids(), units),
    onCampaign: () => void campaign.open(selection.ids()), onChange: show,
    onCompare: () => window.location.assign(`/desk?compare=${selection.ids().join("&with=")}`),
  });
  const element = el("div", { class: "list" },
    el("header", { class: "session-head" }, el("div", {}, el("h1", {}, "Sessions"), count)),
    filters.element,
    el("div", { class: "list-layout" }, importer.element, el("div", {}, el("div", { class: "with-picked" }, selection.element, status.element, shown), host, pager.element)),
    next.element, publish.element, campaign.element);

  /** Another question: from the first line on. */
  function again() {
    pager.first();
    remember();
    void load();
  }

  function remember() {
    const query = new URLSearchParams([...filters.asked(), ...order.asked(), ...(pager.offset() ? [["offset", String(pager.offset())]] : [])]);
    history.replaceState(null, "", `${window.location.pathname}${query.size ? `?${query}` : ""}`);
  }

  function show() {
    if (!listing) return;
    const { sessions, total } = listing;
    const narrowed = filters.asked().length > 0;
    count.textContent = `${total === 1 ? "1 session" : `${formatNumber(total, 0)} sessions`}${narrowed ? " found" : ""}`
      + (listing.behind > 0 ? `, the figures of ${formatNumber(listing.behind, 0)} being renewed` : "");
    host.setAttribute("aria-busy", "false");
    selection.offer(total);
    const focused = document.activeElement instanceof HTMLElement ? focusKey(document.activeElement) : null;
    host.replaceChildren(sessions.length > 0
      ? sessionTable(sessions, units, { order, selection, onArchive: (row) => void archive(row), onNext: next.open })
      : narrowed ? el("div", { class: "empty-page" }, el("h2", {}, "Nothing of that kind"), el("p", {}, "Sessions put away are only found when they are asked for."))
        : el("div", { class: "empty-page" }, el("h2", {}, "Nothing recorded yet"),
          el("p", {}, "Record a session with the phone page, or import a session file."),
          el("p", {}, el("a", { href: "/capture" }, "Open the phone page"))));
    if (focused) (/** @type {HTMLElement | null} */ (host.querySelector(focused)) ?? status.element).focus();
  }

  async function saveTable() {
    const ids = selection.ids();
    const found = Object.fromEntries(filters.asked().filter(([name]) => name !== "within"));
    const within = filters.asked().find(([name]) => name === "within")?.[1];
    status.say("Writing the table\u2026", "soft");
    try {
      const body = ids.length > 0 ? { session_ids: ids, archived: "all" } : { ...found, ...(within ? { campaign: within } : {}) };
      await saveFrom("/api/sessions/table", body);
      status.say("Saved as CSV, in SI: every headline figure with both ends of its interval, and the conditions.", "good");
    } catch (error) {
      status.say(`Not saved: ${error instanceof Error ? error.message : error}`, "alarm");
    }
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
      const { sort, order: way } = order.now();
      const query = new URLSearchParams([...filters.asked().map(([name, value]) => [name === "within" ? "campaign" : name, value]),
        ["sort", sort], ["order", way], ["limit", String(LINES)], ["offset", String(pager.offset())]]);
      const found = /** @type {import("./session/documents").Listing} */ (await request(`/sessions?${query}`, { timeoutMs: 120_000 }));
      if (mine !== asked) return; // a later question was asked meanwhile
      if (!pager.show(found.sessions.length, found.total)) return; // it asks for another part
      listing = found;
      show();
      renewal.follow(found);
    } catch (error) {
      if (mine !== asked) return;
      host.setAttribute("aria-busy", "false");
      host.replaceChildren(el("div", { class: "trouble", role: "alert" },
        el("h2", {}, "The sessions can\u2019t be listed"),
        el("p", {}, error instanceof Error ? error.message : String(error)),
        el("p", {}, el("button", { type: "button", class: "primary", onclick: () => void load() }, "Try again"))));
    }
  }

  void filters.offer().catch(() => undefined); // then they are found by what the address says
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

/**
 * Where the keyboard was, in words that find the same place in the table drawn anew.
 * @param {HTMLElement} focused
 */
function focusKey(focused) {
  if (!focused.closest(".session-table")) return null;
  if (focused.dataset.sort) return `[data-sort="${focused.dataset.sort}"]`;
  const label = focused.getAttribute("aria-label");
  const row = focused.closest("tr")?.dataset.sessionId;
  const within = row ? `[data-session-id="${row}"] ` : "";
  return label ? `${within}[aria-label="${CSS.escape(label)}"]` : `${within}${focused.localName}`;
}
