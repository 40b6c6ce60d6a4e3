// @ts-check
/** What was published of a session or a campaign, frozen, and by how much it is otherwise now. */
import { request } from "../../shared/api.js";
import { copyButton } from "../page/copy-button.js";
import { el } from "../page/dom.js";
import { figureWords } from "../page/figure.js";
import { createFormStatus } from "../page/form-status.js";
import { working } from "../page/keep-focus.js";
import { csv, saveAs } from "../page/files.js";

/** @typedef {import("./offer").Publication} Publication */
/** @typedef {(one: any, units: Units) => string} Summary what was said, in short */
/** @typedef {import("../../shared/units.js").Units} Units */

const MOST_ROWS = 8; // more of them are folded away
const REASONS = { engine: "the program", evidence: "the evidence", choices: "the choices" };

/**
 * @param {string} whose its place in the API, such as "/sessions/ID"
 * @param {string} beside what the frozen figures are kept with
 * @param {Summary} summary
 */
export function createPublished(whose, beside, summary) {
  const path = `${whose}/publications`;
  /** @type {Units | null} */
  let units = null;
  let query = "";
  /** @type {string | null} */
  let last = null;
  const list = el("ol", { class: "published-list" });
  const flag = el("p", { class: "published-flag", hidden: true }, el("a", { href: "#published" }, "What was published has changed since: what, and what to tell readers"));
  const by = el("input", { id: "published-by", type: "text", size: 18, autocomplete: "name", maxlength: 200 });
  const note = el("input", { id: "published-note", type: "text", size: 36, autocomplete: "off", maxlength: 2000 });
  const status = createFormStatus();
  const make = el("button", { type: "submit", class: "button-plain" }, "Record as published");
  const form = el("form", {
    class: "published-form", onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      void working(make, record);
    },
  },
  el("div", { class: "fields" }, field("Where it appears", note), field("Who publishes", by)),
  el("div", { class: "form-actions" }, make, status.element));
  const element = el("div", { class: "published", id: "published" },
    el("p", { class: "hint" }, `Once recorded, the figures are frozen beside this ${beside}. When evidence, choices or the program change them later, the change is told here, with a text for your readers.`),
    list, form);

  async function record() {
    status.say("Recording\u2026", "soft");
    try {
      await request(path, { method: "POST", body: { by: by.value.trim() || null, note: note.value.trim() || null }, timeoutMs: 120_000 });
      note.value = "";
      status.say("Recorded: these figures are frozen.", "good");
      await load();
    } catch (error) {
      status.say(`Not recorded: ${error instanceof Error ? error.message : error}`, "alarm");
    }
  }

  async function load() {
    const asked = query;
    try {
      const { publications } = await request(`${path}?${asked}`, { timeoutMs: 120_000 });
      if (asked === query && units) {
        const shown = units;
        last = publications[0]?.published_at ?? null;
        flag.hidden = publications[0]?.erratum == null;
        list.replaceChildren(...publications.map((/** @type {Publication} */ one) => entry(one, shown, summary)));
      }
    } catch (error) {
      list.replaceChildren(el("li", { class: "published-trouble" }, `What was published can\u2019t be told: ${error instanceof Error ? error.message : error}`));
    }
  }

  return {
    element,
    flag, // for the head of the page
    lastPublished: () => last,
    /** @param {Units} next */
    show(next) {
      units = next;
      query = String(new URLSearchParams({ units: next.distance, consumption: next.consumption, temperature: next.temperature }));
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
 * @param {Summary} summary
 */
function entry(one, units, summary) {
  const when = new Intl.DateTimeFormat("en-GB", { dateStyle: "long", timeStyle: "short" }).format(new Date(one.published_at));
  return el("li", { class: "published-entry" },
    el("p", { class: "published-when" }, when, one.by && ` by ${one.by}`, one.note && ` \u2013 ${one.note}`),
    el("p", { class: "published-said" }, summary(one, units)),
    el("p", { class: `published-state published-${one.erratum ? "changed" : "stands"}` }, state(one)),
    changes(one, units),
    one.erratum && erratum(one, one.erratum, units),
    el("p", { class: "published-source" }, `${one.engine}, evidence ${one.input_sha256.slice(0, 12)}, choices at revision ${one.revision}. `,
      el("a", { href: `/api/publications/${one.id}`, download: true }, "Save all that was frozen (JSON)")));
}

/** @param {Publication} one @param {Units} units what changed, as published, now */
function changesOf({ changed, reworded }, units) {
  return [
    ...reworded.map(({ old, new: now }) => ["What is said", old ?? "\u2013", now ?? "\u2013"]),
    ...changed.map((change) => [[change.of, change.words].filter(Boolean).join(": "), ...[change.old, change.new].map((told) => figureWords(change.dimension, told, units))]),
  ];
}

/** @param {Publication} one @param {Units} units */
function changes(one, units) {
  const rows = changesOf(one, units);
  if (rows.length === 0) return null;
  const table = el("div", { class: "table-scroll", tabindex: 0, role: "region", "aria-label": "What changed" },
    el("table", { class: "figures published-changes" },
      el("caption", { class: "visually-hidden" }, "What changed since it was published"),
      el("thead", {}, el("tr", {}, ...["Figure", "As published", "Now"].map((head) => el("th", { scope: "col" }, head)))),
      el("tbody", {}, ...rows.map(([name, ...cells]) => el("tr", {}, el("th", { scope: "row" }, name ?? ""), ...cells.map((cell) => el("td", {}, cell)))))));
  return rows.length <= MOST_ROWS ? table : el("details", { class: "published-all" }, el("summary", {}, `All ${rows.length} that changed`), table);
}

/** @param {Publication} one */
function state(one) {
  if (!one.comparable) return "There is nothing now to compare it with.";
  if (one.reasons.length === 0) return "Nothing has changed since.";
  const changed = one.reasons.map((reason) => REASONS[reason]).join(" and ");
  const since = `${changed.charAt(0).toUpperCase()}${changed.slice(1)} changed since`;
  return one.erratum ? `${since}, and what was published no longer holds.` : `${since}; what was published stands.`;
}

/** @param {Publication} one @param {string} text @param {Units} units */
function erratum(one, text, units) {
  return el("figure", { class: "published-erratum" }, el("figcaption", {}, "For your readers"), el("blockquote", {}, text),
    el("div", { class: "form-actions" }, ...copyButton("Copy this text", () => text),
      el("button", { type: "button", class: "quiet", onclick: () => saveAs(`changes-since-${one.published_at.slice(0, 10)}.csv`, csv([["changed", "as published", "now"], ...changesOf(one, units)])) }, "Save the list of changes (CSV)")));
}
