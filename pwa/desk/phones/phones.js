// @ts-check
/** Connecting phones to this session by a code to scan, to record or only to look, and blocking them again. */
import { request } from "../../shared/api.js";
import { el } from "../page/dom.js";
import { createFormStatus, point } from "../page/form-status.js";
import { keepingFocus } from "../page/keep-focus.js";

/** @typedef {{ id: string, label: string, looks: boolean, created_at: string, devices: string[], last_used_at: string | null, revoked_at: string | null }} Key */

/** @param {string} id session */
export function createPhones(id) {
  const path = `/sessions/${encodeURIComponent(id)}/keys`;
  const label = el("input", { id: "phone-label", type: "text", size: 18, autocomplete: "off", placeholder: "passenger\u2019s phone" });
  const status = createFormStatus();
  const list = el("ul", { class: "phone-keys" });
  const looking = el("button", { type: "submit", class: "quiet" }, "Code to follow only");
  const fresh = el("div", { class: "phone-fresh", hidden: true, tabindex: -1 });
  const element = el("div", { class: "phones" },
    el("form", {
      class: "entry-form", novalidate: true, "aria-label": "Let a phone in", onsubmit: (/** @type {Event} */ event) => {
        event.preventDefault();
        void make(/** @type {SubmitEvent} */ (event).submitter === looking);
      },
    },
    el("p", { class: "form-note" }, "The first code lets a phone add to this session and do nothing else; the passenger operates it, never the driver. The second lets the chase vehicle, or whoever else has it, follow the run and add nothing."),
    el("div", { class: "fields" }, el("div", { class: "field" }, el("label", { for: label.id }, "Whose phone"), label)),
    el("div", { class: "form-actions" }, el("button", { type: "submit", class: "primary" }, "Code to record"), looking, status.element)),
    el("div", {}, fresh, list));

  /** @param {boolean} looks */
  async function make(looks) {
    const name = label.value.trim();
    if (!name) {
      status.say("Please say whose phone it is: that is how you block the right one.", "alarm");
      return point(label);
    }
    try {
      const key = await request(path, { method: "POST", body: { label: name, looks } });
      label.value = "";
      status.say("", "soft");
      const words = key.looks ? "Follow the run" : "Record in the car";
      fresh.replaceChildren(
        el("h3", {}, `For ${key.label}: shown this once`),
        el("figure", { class: "code" },
          el("img", { src: `data:image/svg+xml,${encodeURIComponent(key.qr_svg)}`, width: 200, height: 200, alt: `Code to scan: ${words}` }),
          el("figcaption", {}, el("b", {}, words), el("a", { href: key.url }, "the same as an address"))),
        key.only_here ? el("p", { class: "form-note" }, "Only this computer can open the address. To let a phone in: ",
          ...["ebbline user add NAME", "ebbline certificate", "ebbline serve --tls"].flatMap((command, i) => [i ? ", " : "", el("code", {}, command)]), ". Then make a new code.") : "",
        el("button", { type: "button", class: "quiet", onclick: hideCode }, "Hide the code"));
      fresh.hidden = false;
      fresh.focus();
      await load();
    } catch (error) {
      status.say(`No code was made: ${error instanceof Error ? error.message : error}`, "alarm");
    }
  }

  function hideCode() {
    fresh.hidden = true;
    label.focus();
  }

  async function load() {
    try {
      const { keys } = await request(path);
      keepingFocus(list, () => list.replaceChildren(...keys.map(line)));
    } catch (error) {
      status.say(`The phones can\u2019t be listed: ${error instanceof Error ? error.message : error}`, "alarm");
    }
  }

  /** @param {Key} key */
  function line(key) {
    const when = (/** @type {string} */ stamp) => new Intl.DateTimeFormat("en-GB", { dateStyle: "medium", timeStyle: "short" }).format(new Date(stamp));
    let sure = false;
    const out = el("button", {
      type: "button", class: "quiet small danger", "aria-label": `Block ${key.label}`,
      onclick: () => {
        if (sure) void revoke(key);
        else out.textContent = "Block permanently";
        sure = true;
      },
    }, "Block");
    return el("li", { class: key.revoked_at ? "is-withdrawn" : null }, el("b", {}, key.label), key.looks ? " (follows only) " : " ",
      el("span", { class: "soft" }, key.revoked_at ? `blocked ${when(key.revoked_at)}`
        : `made ${when(key.created_at)}, ${key.last_used_at ? `last connected ${when(key.last_used_at)}` : "not connected yet"}`), recordedWith(key), key.revoked_at ? "" : out);
  }

  /** Blocking a code that was scanned twice blocks both. @param {Key} key */
  function recordedWith({ devices }) {
    if (devices.length === 0) return "";
    const names = devices.map((device) => `\u2026${device.slice(-4)}`).join(", ");
    return devices.length === 1 ? el("span", { class: "soft" }, `records as ${names}`) : el("b", {}, `\u25b2 scanned by ${devices.length} phones, ${names}: they are blocked together`);
  }

  /** @param {Key} key */
  async function revoke(key) {
    try {
      await request(`${path}/${encodeURIComponent(key.id)}`, { method: "DELETE" });
      status.say(`${key.label} is blocked. ${key.looks ? "It follows no longer." : "What it sent stays here; what it has not sent stays on the phone."}`, "good");
      await load();
    } catch (error) {
      status.say(`Not blocked: ${error instanceof Error ? error.message : error}`, "alarm");
    }
  }

  return { element, load };
}
