// @ts-check
/** Every campaign by name, and the way to a new one. */
import { request } from "../shared/api.js";
import { eventName, zeroName } from "../shared/vocabulary.js";
import { day, selectionWords } from "./campaign/words.js";
import { el } from "./page/dom.js";

/** @param {(title: string) => void} onTitle */
export function createCampaignsPage(onTitle) {
  const host = el("div", { "aria-busy": "true" }, el("div", { class: "row-waiting" }), el("div", { class: "row-waiting" }));
  const element = el("div", { class: "campaigns" }, el("header", { class: "session-head" }, el("h1", {}, "Campaigns")), host);
  onTitle("Campaigns");

  async function load() {
    try {
      const { campaigns } = await request("/campaigns");
      host.replaceChildren(campaigns.length === 0
        ? el("div", { class: "empty-page" }, el("h2", {}, "No campaign yet"), el("p", {}, "A campaign is a selection of sessions that are compared. Pick sessions in the list and save them as one."), el("p", {}, el("a", { href: "/desk" }, "All sessions")))
        : el("ul", { class: "campaign-list" }, ...campaigns.map(line)));
    } catch (error) {
      host.replaceChildren(el("div", { class: "trouble", role: "alert" }, el("h2", {}, "The campaigns can\u2019t be shown"), el("p", {}, String(error instanceof Error ? error.message : error))));
    }
    host.setAttribute("aria-busy", "false");
  }

  /** @param {import("./campaign/documents").Campaign} one */
  function line(one) {
    return el("li", {},
      el("a", { class: "session-link", href: `/desk?campaign=${encodeURIComponent(one.id)}` }, one.name),
      el("p", { class: "session-facts" }, ...[
        ...selectionWords(one),
        one.zero_basis && `from \u201c${zeroName(one.zero_basis)}\u201d`, one.reserve_end && `to \u201c${eventName(one.reserve_end)}\u201d`, one.tested_by && `tested by ${one.tested_by}`, `changed ${day(one.updated_at)}`, one.notes,
      ].filter(Boolean).map((words) => el("span", {}, String(words)))));
  }

  void load();
  return { element, setUnits() {} };
}
