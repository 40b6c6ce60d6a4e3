// @ts-check
/** Saving the sessions picked as a campaign, or adding them to one. */
import { request } from "../../shared/api.js";
import { eventName } from "../../shared/vocabulary.js";
import { el } from "../page/dom.js";
import { createFormStatus, point } from "../page/form-status.js";

/** @typedef {import("../session/documents").Campaign} Campaign */

/**
 * @param {(saved: Campaign) => void} onSaved
 */
export function createCampaignForm(onSaved) {
  /** @type {string[]} */
  let ids = [];
  /** @type {Campaign[]} */
  let there = [];
  const into = el("select", { id: "campaign-into", onchange: show });
  const name = el("input", { id: "campaign-name", type: "text", size: 36, autocomplete: "off", maxlength: 200 });
  const notes = el("input", { id: "campaign-notes", type: "text", size: 48, autocomplete: "off" });
  const zero = choice("campaign-zero", [["", "each session\u2019s own"], ...named("zero_soc", "zero_range")]);
  const end = choice("campaign-end", [["", "each session\u2019s own"], ...named("propulsion_off", "contactors_open", "standstill")]);
  const fresh = el("div", { class: "fields" }, field("Name", name), field("Zero", zero), field("End of the reserve", end), field("Notes", notes));
  const about = el("p", { class: "form-note" });
  const status = createFormStatus();
  const make = el("button", { type: "submit", class: "primary" }, "Save");
  const element = el("dialog", { class: "card small-dialog", "aria-labelledby": "campaign-title" },
    el("form", {
      novalidate: true, onsubmit: (/** @type {Event} */ event) => {
        event.preventDefault();
        void send();
      },
    },
    el("h2", { id: "campaign-title" }, "Save as campaign"), about, field("Campaign", into), fresh,
    el("div", { class: "form-actions" }, make, el("button", { type: "button", class: "quiet", onclick: () => element.close() }, "Cancel"), status.element)));

  function show() {
    fresh.hidden = into.value !== "";
  }

  async function send() {
    const old = there.find((one) => one.id === into.value);
    if (!old && name.value.trim() === "") return point(name);
    make.disabled = true;
    try {
      onSaved(old ? await request(`/campaigns/${old.id}`, { method: "PUT", body: extended(old, ids) })
        : await request("/campaigns", {
          method: "POST", body: {
            name: name.value.trim(), notes: notes.value.trim() || null, zero_basis: zero.value || null, reserve_end: end.value || null, session_ids: ids,
          },
        }));
      element.close();
    } catch (error) {
      status.say(`Not saved: ${error instanceof Error ? error.message : error}`, "alarm");
    } finally {
      make.disabled = false;
    }
  }

  return {
    element,
    /** @param {string[]} chosen */
    async open(chosen) {
      ids = chosen;
      about.textContent = `${ids.length === 1 ? "1 session" : `${ids.length} sessions`}. A campaign says which sessions are compared, and from which zero to which end.`;
      status.say("", "soft");
      name.value = notes.value = "";
      there = await request("/campaigns").then((answer) => answer.campaigns, () => []);
      into.replaceChildren(el("option", { value: "" }, "a new one"), ...there.map((one) => el("option", { value: one.id }, one.name)));
      show();
      element.showModal();
      name.focus();
    },
  };
}

/**
 * A campaign with more sessions, as it is sent; those it leaves out stay out.
 * @param {Campaign} old
 * @param {string[]} ids
 */
export function extended({ id: _id, revision, created_at: _made, updated_at: _changed, ...definition }, ids) {
  const known = new Set([...definition.session_ids, ...definition.left_out.map((one) => one.session_id)]);
  return { ...definition, base: revision, session_ids: [...definition.session_ids, ...ids.filter((one) => !known.has(one))] };
}

/** @param {string[]} kinds @returns {[string, string][]} */
function named(...kinds) {
  return kinds.map((kind) => [kind, eventName(kind)]);
}

/** @param {string} id @param {[string, string][]} options */
function choice(id, options) {
  return el("select", { id }, ...options.map(([value, words]) => el("option", { value }, words)));
}

/** @param {string} words @param {HTMLElement} input */
function field(words, input) {
  return el("div", { class: "field" }, el("label", { for: input.id }, words), input);
}
