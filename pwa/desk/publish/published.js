// @ts-check
/** What was published of a session, frozen, and by how much it is otherwise now. */
import { request } from "../../shared/api.js";
import { formatQuantity } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { createFormStatus } from "../page/form-status.js";

/** @typedef {import("./offer").Publication} Publication */
/** @typedef {import("../../shared/units.js").Units} Units */

const REASONS = { engine: "the program", evidence: "the evidence", choices: "the choices" };

/**
 * @param {string} id session
 */
export function createPublished(id) {
  const path = `/sessions/${encodeURIComponent(id)}/publications`;
  /** @type {Units | null} */
  let units = null;
  let query = "";
  const list = el("ol", { class: "published-list" });
  const flag = el("p", { class: "published-flag", hidden: true }, el("a", { href: "#published" }, "What was published has changed since: what, and what to tell readers"));
  const by = el("input", { id: "published-by", type: "text", size: 18, autocomplete: "name", maxlength: 200 });
  const note = el("input", { id: "published-note", type: "text", size: 36, autocomplete: "off", maxlength: 2000 });
  const status = createFormStatus();
  const make = el("button", { type: "submit", class: "button-plain" }, "Record as published");
  const form = el("form", {
    class: "published-form", onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      void record();
    },
  },
  el("div", { class: "fields" }, field("Where it appears", note), field("Who publishes", by)),
  el("div", { class: "form-actions" }, make, status.element));
  const element = el("div", { class: "published", id: "published" },
    el("p", { class: "hint" }, "Once recorded, the figures are frozen beside this session. When evidence, choices or the program change them later, the change is told here, with a text for your readers."),
    list, form);

  async function record() {
    make.disabled = true;
    status.say("Recording\u2026", "soft");
    try {
      await request(path, { method: "POST", body: { by: by.value.trim() || null, note: note.value.trim() || null }, timeoutMs: 120_000 });
      note.value = "";
      status.say("Recorded: these figures are frozen.", "good");
      await load();
    } catch (error) {
      status.say(`Not recorded: ${error instanceof Error ? error.message : error}`, "alarm");
    } finally {
      make.disabled = false;
    }
  }

  async function load() {
    const asked = query;
    try {
      const { publications } = await request(`${path}?${asked}`, { timeoutMs: 120_000 });
      if (asked === query && units) {
        const shown = units;
        flag.hidden = publications[0]?.erratum == null;
        list.replaceChildren(...publications.map((/** @type {Publication} */ one) => entry(one, shown)));
      }
    } catch (error) {
      list.replaceChildren(el("li", { class: "published-trouble" }, `What was published can\u2019t be told: ${error instanceof Error ? error.message : error}`));
    }
  }

  return {
    element,
    flag, // for the head of the page
    /** @param {Units} nextUnits @param {string} nextQuery the same, as an address carries them */
    show(nextUnits, nextQuery) {
      units = nextUnits;
      query = nextQuery;
      void load();
    },
  };
}

/** @param {string} words @param {HTMLInputElement} input */
function field(words, input) {
  return el("div", { class: "field" }, el("label", { for: input.id }, words), input);
}

/**
 * @param {Publication} one
 * @param {Units} units
 */
function entry(one, units) {
  const when = new Intl.DateTimeFormat("en-GB", { dateStyle: "long", timeStyle: "short" }).format(new Date(one.published_at));
  const figures = [formatQuantity("distance", one.figures.reserve_distance_m, units), formatQuantity("energy", one.figures.reserve_energy_kwh, units)]
    .flatMap((figure) => (figure ? [figure.text] : []));
  return el("li", { class: "published-entry" },
    el("p", { class: "published-when" }, when, one.by && ` by ${one.by}`, one.note && ` \u2013 ${one.note}`),
    el("p", {}, figures.length > 0 ? `${figures.join(", ")} past zero` : "No reserve was given"),
    el("p", { class: `published-state published-${one.erratum ? "changed" : "stands"}` }, state(one)),
    one.changed.length > 0 && el("table", { class: "figures published-changes" },
      el("thead", {}, el("tr", {}, ...["Figure", "As published", "Now"].map((head) => el("th", { scope: "col" }, head)))),
      el("tbody", {}, ...one.changed.map((change) => el("tr", {},
        el("th", { scope: "row" }, change.words),
        ...[change.old, change.new].map((quantity) => el("td", {}, formatQuantity(change.dimension, quantity, units)?.text ?? "not known")))))),
    one.erratum && erratum(one.erratum),
    el("p", { class: "published-source" }, `${one.engine}, evidence ${one.input_sha256.slice(0, 12)}, choices at revision ${one.setup_revision}`));
}

/** @param {Publication} one */
function state(one) {
  if (!one.comparable) return "There are no figures now to compare with.";
  if (one.reasons.length === 0) return "Nothing has changed since.";
  const changed = one.reasons.map((reason) => REASONS[reason]).join(" and ");
  const since = `${changed.charAt(0).toUpperCase()}${changed.slice(1)} changed since`;
  return one.erratum ? `${since}, and so did what was published:` : `${since}; every headline figure stands.`;
}

/** @param {string} text */
function erratum(text) {
  const status = createFormStatus();
  const copy = el("button", {
    type: "button", class: "quiet",
    onclick: async () => {
      try {
        await navigator.clipboard.writeText(text);
        status.say("Copied.", "good");
      } catch {
        status.say("The browser doesn\u2019t allow it: mark the text and copy it by hand.", "alarm");
      }
    },
  }, "Copy this text");
  return el("div", { class: "published-erratum" }, el("h4", {}, "For your readers"), el("blockquote", {}, text),
    el("div", { class: "form-actions" }, copy, status.element));
}
