// @ts-check
/** What a campaign is: its name, zero and end, and which sessions count; changed and saved here. */
import { request } from "../../shared/api.js";
import { eventName } from "../../shared/vocabulary.js";
import { el } from "../page/dom.js";
import { createFormStatus, point } from "../page/form-status.js";

/** @typedef {import("./model.js").Model} Model */

/** @param {(saved: import("./documents").Campaign) => void} onSaved */
export function createDefinitionForm(onSaved) {
  /** @type {Model | null} */
  let model = null;
  const name = el("input", { id: "campaign-name", type: "text", size: 36, maxlength: 200, autocomplete: "off" });
  const notes = el("input", { id: "campaign-notes", type: "text", size: 48, autocomplete: "off" });
  const testedBy = el("input", { id: "campaign-tested-by", type: "text", size: 28, maxlength: 500, autocomplete: "off" });
  const zero = choice("campaign-zero", ["zero_soc", "zero_range"], "what most of them take");
  const end = choice("campaign-end", ["propulsion_off", "contactors_open", "standstill"], "what most of them end with");
  const members = el("tbody");
  const status = createFormStatus();
  const save = el("button", { type: "submit", class: "primary" }, "Save the definition");
  const element = el("form", {
    class: "entry-form definition", novalidate: true, onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      void send();
    },
  },
  el("div", { class: "fields" }, field("Name", name), field("Zero", zero), field("End of the reserve", end), field("Tested by", testedBy), field("Notes", notes)),
  el("details", {}, el("summary", {}, "Which sessions count"),
    el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "Sessions of the campaign" },
      el("table", { class: "figures members" }, el("caption", { class: "visually-hidden" }, "Sessions of the campaign: whether each counts, and why not"),
        el("thead", {}, el("tr", {}, el("th", { scope: "col", class: "words" }, "Counts"), el("th", { scope: "col", class: "words" }, "Why it is left out"))), members))),
  el("div", { class: "form-actions" }, save, status.element));

  /** @param {string} id @param {string} why empty where it counts */
  function member(id, why) {
    const words = model?.names.get(id) ?? "A session";
    const reason = el("input", { type: "text", size: 44, maxlength: 1000, value: why, "aria-label": `Why ${words} is left out`, disabled: why === "", autocomplete: "off" });
    const counts = el("input", {
      type: "checkbox", checked: why === "", "data-session-id": id, onchange: () => {
        reason.disabled = counts.checked;
        if (!counts.checked) reason.focus();
      },
    });
    return el("tr", {}, el("th", { scope: "row" }, el("label", { class: "member" }, counts, words)), el("td", { class: "words" }, reason));
  }

  async function send() {
    if (!model) return;
    const rows = [...members.querySelectorAll("tr")].map((line) => {
      const [counts, reason] = /** @type {HTMLInputElement[]} */ ([...line.querySelectorAll("input")]);
      return { id: counts?.dataset.sessionId ?? "", counts: counts?.checked ?? true, reason };
    });
    const silent = rows.find(({ counts, reason }) => !counts && reason?.value.trim() === "");
    if (name.value.trim() === "") return point(name);
    if (silent?.reason) {
      element.querySelector("details")?.setAttribute("open", "");
      status.say("Say why a session is left out: a reader will ask.", "alarm");
      return point(silent.reason);
    }
    save.disabled = true;
    try {
      const { id, revision } = model.campaign;
      const saved = await request(`/campaigns/${id}`, {
        method: "PUT", body: {
          base: revision, name: name.value.trim(), notes: notes.value.trim() || null, tested_by: testedBy.value.trim() || null, zero_basis: zero.value || null, reserve_end: end.value || null,
          session_ids: rows.filter(({ counts }) => counts).map((row) => row.id),
          left_out: rows.filter(({ counts }) => !counts).map((row) => ({ session_id: row.id, why: row.reason?.value.trim() })),
        },
      });
      status.say("Saved; the answer at the top of the page follows.", "good");
      onSaved(saved);
    } catch (error) {
      status.say(`Not saved: ${error instanceof Error ? error.message : error}`, "alarm");
    } finally {
      save.disabled = false;
    }
  }

  return {
    element,
    /** @param {Model} next */
    update(next) {
      model = next;
      const { campaign } = next;
      name.value = campaign.name;
      notes.value = campaign.notes ?? "";
      testedBy.value = campaign.tested_by ?? "";
      zero.value = campaign.zero_basis ?? "";
      end.value = campaign.reserve_end ?? "";
      members.replaceChildren(...campaign.session_ids.map((id) => member(id, "")), ...campaign.left_out.map(({ session_id: id, why }) => member(id, why)));
    },
  };
}

/** @param {string} id @param {string[]} kinds @param {string} otherwise */
function choice(id, kinds, otherwise) {
  return el("select", { id }, el("option", { value: "" }, otherwise), ...kinds.map((kind) => el("option", { value: kind }, eventName(kind))));
}

/** @param {string} words @param {HTMLElement} input */
function field(words, input) {
  return el("div", { class: "field" }, el("label", { for: input.id }, words), input);
}
