// @ts-check
/** Every campaign by name, and the way to a new one. */
import { request } from "../shared/api.js";
import { eventName, zeroName } from "../shared/vocabulary.js";
import { each } from "./campaign/model.js";
import { day, selectionWords } from "./campaign/words.js";
import { el } from "./page/dom.js";

/** @typedef {import("./campaign/documents").CampaignLine} Line */

/** @param {(title: string) => void} onTitle */
export function createCampaignsPage(onTitle) {
  const host = el("div", { "aria-busy": "true" }, el("div", { class: "row-waiting" }), el("div", { class: "row-waiting" }));
  const element = el("div", { class: "campaigns" }, el("header", { class: "session-head" }, el("h1", {}, "Campaigns")), host);
  /** Where each one's record is told, by its id. @type {Map<string, HTMLElement>} */
  const records = new Map();
  onTitle("Campaigns");

  async function load() {
    try {
      show((await request("/campaigns")).campaigns);
    } catch (error) {
      host.replaceChildren(el("div", { class: "trouble", role: "alert" }, el("h2", {}, "The campaigns can\u2019t be shown"), el("p", {}, String(error instanceof Error ? error.message : error))));
    }
    host.setAttribute("aria-busy", "false");
  }

  /** @param {Line[]} campaigns */
  function show(campaigns) {
    host.replaceChildren(campaigns.length === 0
      ? el("div", { class: "empty-page" }, el("h2", {}, "No campaign yet"), el("p", {}, "A campaign is a selection of sessions that are compared. Pick sessions in the list and save them as one."), el("p", {}, el("a", { href: "/desk" }, "All sessions")))
      : el("ul", { class: "campaign-list" }, ...campaigns.map(line)));
    const untold = campaigns.filter(({ published_at: at, published_differs: differs }) => at !== null && differs === null);
    if (untold.length > 0) void compare(untold);
  }

  /** What changed since it was last compared is compared now; that is kept. @param {Line[]} some */
  async function compare(some) {
    await each(some.map(({ id }) => id), async (id) => void await request(`/campaigns/${encodeURIComponent(id)}/comparison`, { timeoutMs: 60_000 }));
    const { campaigns } = await request("/campaigns").catch(() => ({ campaigns: [] })); // the list stays as it was told
    for (const one of /** @type {Line[]} */ (campaigns)) records.get(one.id)?.replaceChildren(published(one, true));
  }

  /** @param {Line} one */
  function line(one) {
    const record = el("div", {}, published(one, false));
    records.set(one.id, record);
    return el("li", {},
      el("a", { class: "session-link", href: `/desk?campaign=${encodeURIComponent(one.id)}` }, one.name),
      el("p", { class: "session-facts" }, ...[
        ...selectionWords(one),
        one.zero_basis && `from \u201c${zeroName(one.zero_basis)}\u201d`, one.reserve_end && `to \u201c${eventName(one.reserve_end)}\u201d`, one.tested_by && `tested by ${one.tested_by}`, `changed ${day(one.updated_at)}`, one.notes,
      ].filter(Boolean).map((words) => el("span", {}, String(words)))),
      record);
  }

  /** @param {Line} one @param {boolean} again compared just now */
  function published({ id, published_at: at, published_differs: differs }, again) {
    if (at === null) return "";
    const said = `Published on ${day(at)}`;
    if (differs) return el("p", { class: "published-flag" }, el("a", { href: `/desk?campaign=${encodeURIComponent(id)}#published` }, `${said}, and figures have changed since: what, and what to tell readers`));
    return el("p", { class: "session-facts" }, differs === false ? `${said}; it still holds.` : again ? `${said}. Whether it still holds shows once its sessions are worked out: open it.` : `${said}; being compared with what is found now\u2026`);
  }

  void load();
  return { element, setUnits() {} };
}
