// @ts-check
/** Deleting a campaign, which is a selection: nothing that was recorded in the field goes with it. */
import { request } from "../../shared/api.js";
import { el } from "../page/dom.js";
import { createFormStatus } from "../page/form-status.js";
import { day } from "./words.js";

/**
 * @param {() => import("./documents").Campaign | null} whose
 * @param {() => string | null} lastPublished RFC 3339; what was published stays
 */
export function createDeletion(whose, lastPublished) {
  const title = el("h2", { id: "deletion-title" });
  const about = el("p", { class: "form-note" });
  const status = createFormStatus();
  const yes = el("button", { type: "button", class: "primary", onclick: () => void send() }, "Delete the campaign");
  const keep = el("button", { type: "button", class: "quiet", onclick: () => dialog.close() });
  const dialog = el("dialog", { class: "card small-dialog", "aria-labelledby": title.id }, title, about,
    el("div", { class: "form-actions" }, yes, keep, status.element));
  const element = el("div", { class: "deletion" }, el("button", { type: "button", class: "quiet", onclick: ask }, "Delete this campaign\u2026"), dialog);

  function ask() {
    const campaign = whose();
    if (!campaign) return;
    const published = lastPublished();
    const count = campaign.session_ids.length + campaign.left_out.length;
    title.textContent = published ? "This campaign stays" : `Delete the campaign \u201c${campaign.name}\u201d?`;
    yes.hidden = published !== null;
    keep.textContent = published ? "Close" : "Keep it";
    about.textContent = published ? `It was recorded as published, last on ${day(published)}: without it nobody could work out what to tell its readers when something changes. What was never published can be deleted.`
      : `What goes is the selection: its name, notes and definition, and why sessions were left out. ${count === 1 ? "Its session" : `Its ${count} sessions`} and everything recorded in the field stay as they are. It can\u2019t be taken back.`;
    status.say("", "soft");
    dialog.showModal();
  }

  async function send() {
    const campaign = whose();
    if (!campaign) return;
    yes.disabled = true;
    try {
      await request(`/campaigns/${encodeURIComponent(campaign.id)}`, { method: "DELETE" });
      window.location.assign("/desk?campaigns");
    } catch (error) {
      status.say(`Not deleted: ${error instanceof Error ? error.message : error}`, "alarm");
      yes.disabled = false;
    }
  }

  return element;
}
