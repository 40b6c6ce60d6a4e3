// @ts-check
/** A track or a log that others recorded: looked at first, taken when somebody says so. */
import { request } from "../../shared/api.js";
import { formatNumber } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { sessionClock } from "../session/clock.js";
import { createAccount } from "./account.js";
import { createMapping } from "./mapping.js";
import { send, succeeded } from "./send.js";

/** @typedef {import("./documents").Look} Look */
/** @typedef {import("./documents").Target} Target */

const TYPES = { gpx: "application/gpx+xml", csv: "text/csv" };

/**
 * @param {File} file
 * @param {"gpx" | "csv"} kind
 * @param {() => Target | null} target the session it belongs to; null where one is to be chosen
 * @param {() => Promise<void>} onImported
 * @returns {HTMLElement} its account
 */
export function takeEvidence(file, kind, target, onImported) {
  const account = createAccount(file.name);
  const uid = crypto.randomUUID();
  const into = el("select", { id: `into-${uid}` }, el("option", { value: "" }, "A session of its own"));
  const device = el("input", { id: `device-${uid}`, type: "text", autocomplete: "off", placeholder: "from the file", maxlength: 100 });
  const zone = el("input", { id: `zone-${uid}`, type: "text", autocomplete: "off", placeholder: "such as Europe/Vienna", value: target()?.zone ?? "", onchange: () => void look() });
  const take = el("button", { type: "button", class: "primary", disabled: true, onclick: () => void bringIn() }, "Import it");
  const leave = el("button", { type: "button", class: "quiet", onclick: () => account.element.remove() }, "Leave it out");
  const found = el("p", { class: "import-found", role: "status" });
  const notes = el("ul", { class: "import-notes" });
  const mappingHost = el("div", {});
  /** @type {ReturnType<typeof createMapping> | null} */
  let mapping = null;
  /** @param {string} id @param {string} words @param {HTMLElement} control */
  const field = (id, words, control) => el("div", { class: "field" }, el("label", { for: id }, words), control);
  account.more.append(
    el("div", { class: "import-fields" },
      target() ? "" : field(into.id, "Belongs to", into),
      field(device.id, "Recorded by", device),
      field(zone.id, "Time zone if the file gives none", zone)),
    mappingHost, found, notes,
    el("div", { class: "form-actions" }, take, leave));

  /** @param {boolean} withMapping */
  function query(withMapping) {
    const asked = new URLSearchParams({ name: file.name });
    if (device.value.trim()) asked.set("device", device.value.trim());
    if (zone.value.trim() && !(withMapping && mapping)) asked.set("zone", zone.value.trim());
    if (withMapping && mapping) asked.set("mapping", JSON.stringify(mapping.read(zone.value.trim())));
    return asked;
  }

  async function look() {
    take.disabled = true;
    account.element.classList.remove("import-bad");
    account.progress(0);
    const answer = await send(`/imports/look?${query(true)}`, file, TYPES[kind], account.progress);
    if (!succeeded(answer)) {
      account.bad(answer, mapping ? "Not readable so, nothing was stored. " : "Not readable, nothing was stored. ");
      found.textContent = "";
      return;
    }
    const looked = /** @type {Look} */ (answer.body);
    if (looked.guess) {
      account.say("A log in columns. Which column is what was guessed from its header and first lines: put right what is wrong, then have it read.");
      mapping = createMapping(looked.guess, looked.units, await file.slice(0, 4000).text(), () => {
        take.disabled = true;
        found.textContent = "The mapping has changed: have it read again.";
      }, () => void look());
      mappingHost.replaceChildren(mapping.element);
      found.textContent = "";
      return;
    }
    account.say(mapping ? "Read by the mapping below. Nothing is stored yet." : "A track. Nothing is stored yet.");
    found.textContent = wordsOf(looked);
    notes.replaceChildren(...looked.notes.map((note) => el("li", {}, note)));
    take.disabled = false;
  }

  /** @param {Look} looked */
  function wordsOf(looked) {
    const clock = target()?.clock ?? sessionClock(zone.value.trim() || "UTC", null);
    const counts = /** @type {[number, string][]} */ ([[looked.fixes, "fixes"], [looked.events, "events"], [looked.log_rows, "rows of a log"]])
      .filter(([count]) => count > 0).map(([count, words]) => `${formatNumber(count, 0)} ${words}`).join(", ");
    const span = looked.from_ms === null || looked.to_ms === null ? ""
      : `, ${clock.date(looked.from_ms)} from ${clock.time(looked.from_ms)} to ${clock.time(looked.to_ms)} (${clock.zone})`;
    return `${counts}${span}, by ${looked.devices.join(", ")}.`;
  }

  async function bringIn() {
    take.disabled = true;
    const chosen = target()?.id ?? into.value;
    const path = chosen ? `/sessions/${encodeURIComponent(chosen)}/evidence` : "/imports/evidence";
    const answer = await send(`${path}?${query(true)}`, file, TYPES[kind], account.progress);
    if (!succeeded(answer)) {
      account.bad(answer);
      take.disabled = false;
      return;
    }
    account.more.replaceChildren();
    const body = /** @type {import("./documents").Taken} */ (answer.body);
    account.good(`${answer.status === 201 ? "Imported" : "Already here, nothing changed"}: ${formatNumber(body.fixes, 0)} positions, `
      + `${formatNumber(body.events, 0)} events, ${formatNumber(body.log_rows, 0)} rows of a log. `,
    target() ? "" : el("a", { href: `/desk?session=${encodeURIComponent(body.id)}` }, "Open it"));
    account.more.append(...(body.notes.length ? [el("ul", { class: "import-notes" }, ...body.notes.map((note) => el("li", {}, note)))] : []));
    await onImported();
  }

  async function offerSessions() {
    const { sessions } = await request("/sessions?limit=500", { timeoutMs: 120_000 });
    into.append(...sessions.map((/** @type {import("../session/documents").SessionRow} */ row) =>
      el("option", { value: row.id }, row.title || row.vehicle_label || row.id)));
  }

  if (!target()) void offerSessions().catch(() => undefined); // then only a session of its own is offered
  void look();
  return account.element;
}
