// @ts-check
/** The choices behind the figures: changed here, tried first, saved as a new revision of the set-up. */
import { ApiError, request } from "../../shared/api.js";
import { stated } from "../../shared/facts.js";
import { RESERVE_ENDS, eventExplained } from "../../shared/vocabulary.js";
import { createConflict } from "../evidence/conflict.js";
import { readNumber } from "../evidence/moment-field.js";
import { createWriterField, writer } from "../evidence/writer.js";
import { el } from "../page/dom.js";
import { createFormStatus, firstWrong, mark, point } from "../page/form-status.js";
import { reveal } from "../page/parts.js";
import { forgetKnown } from "../session/known.js";
import { FURTHER, scaleOf, shownAs, withChanges } from "../words/setup-fields.js";
import { setupDifferences } from "../words/setup-words.js";
import { comparison } from "./comparison.js";
import { createExcludedField } from "./excluded-field.js";
import { createFactsPart } from "./facts-part.js";
import { createZeroField } from "./zero-field.js";

/** @typedef {import("../session/model.js").Model} Model */
/** @typedef {import("../session/documents").Setup} Setup */
/** @typedef {import("../../shared/units.js").Units} Units */

const WAIT_MS = 500; // after the last key, before it is tried

/**
 * @param {import("../session/cursor.js").Cursor} cursor
 * @param {object} options
 * @param {() => [number, number] | null} options.viewed the part of the timeline in view, ms
 * @param {() => Promise<void>} options.onKept
 */
export function createChoices(cursor, { viewed, onKept }) {
  /** @type {Model | null} */
  let model = null;
  /** @type {Units | null} */
  let units = null;
  /** what was changed and not kept yet, by its path @type {Map<string, unknown>} */
  const changes = new Map();
  let waiting = 0;
  let tries = 0;

  const zero = createZeroField(cursor, change);
  const excluded = createExcludedField(viewed, (list) => {
    change([["excluded", list]]);
    refresh();
  });
  const delayMean = numberInput("delay_mean", "Mean tap delay, s", onDelay);
  const delaySd = numberInput("delay_sd", "Give or take, s (95 %)", onDelay);
  const efficiency = numberInput("charging_efficiency", "Charging efficiency, 0 to 1", () => onNumber(efficiency, "protocol.charging_efficiency", 0));
  const end = el("select", { id: "choice-reserve_end", onchange: () => change([["protocol.reserve_end", end.value || null]]) },
    el("option", { value: "" }, "the first of these that is on record"),
    ...RESERVE_ENDS.map((value) => el("option", { value }, eventExplained(value))));
  const whichEnd = el("select", { id: "choice-which_end", onchange: () => change([["protocol.which_end", whichEnd.value || null]]) },
    ...[["", "not chosen: the last"], ["first", "the first"], ["last", "the last"]].map(([value, words]) => el("option", { value }, words ?? "")));
  const clocks = el("div", { class: "fields" });
  const further = FURTHER.map((kind) => {
    const input = el("input", { id: `choice-${kind.name}`, type: "text", size: kind.kind === "text" ? 18 : 9, inputmode: kind.kind === "number" ? "decimal" : null, autocomplete: "off" });
    input.addEventListener("input", () => {
      if (kind.kind === "number") onNumber(input, kind.path, kind.above ?? -Infinity);
      else change([[kind.path, input.value.trim() || null]]);
    });
    return { kind, input, field: el("div", { class: "field" }, el("label", { for: input.id }, kind.unit ? `${kind.words}, ${kind.unit}` : kind.words), input) };
  });
  const facts = createFactsPart({ change, refresh });
  const more = el("details", { class: "behind further", ontoggle: () => more.open && facts.opened() }, el("summary", {}, "Car, day and more choices"),
    ...facts.elements, el("h3", {}, "Session, course and plan"),
    el("div", { class: "fields" }, ...further.map(({ field }) => field)), el("h3", {}, "Clocks"), clocks);
  const reason = el("input", { id: "choice-reason", type: "text", size: 30, autocomplete: "off" });
  const keep = el("button", { type: "submit", class: "primary", disabled: true }, "Save these choices");
  const drop = el("button", { type: "button", class: "quiet", disabled: true, onclick: forget }, "Leave it as it was");
  const status = createFormStatus();
  const conflict = createConflict("choice-conflict-title");
  const trial = el("div", { class: "trial", "aria-live": "polite" }, el("p", { class: "empty" }, "Change a choice: what it does to the figures shows here, before anything is saved."));
  const element = el("div", { class: "choices" },
    el("form", {
      class: "entry-form choice-form", novalidate: true, "aria-labelledby": "choices-title",
      onsubmit: (/** @type {SubmitEvent} */ event) => {
        event.preventDefault();
        void keepIt();
      },
    },
    el("div", { class: "choice-groups" }, zero.element,
      el("fieldset", { class: "choice" }, el("legend", {}, "Taps and end"),
        el("div", { class: "fields" }, delayMean.field, delaySd.field,
          el("div", { class: "field" }, el("label", { for: end.id }, "The reserve ends at"), end),
          el("div", { class: "field" }, el("label", { for: whichEnd.id }, "With a restart between, at"), whichEnd), efficiency.field)),
      excluded.element),
    more,
    el("div", { class: "fields choice-why" }, el("div", { class: "field field-wide" }, el("label", { for: reason.id }, "Why (stays in the history)"), reason), createWriterField("choice-writer")),
    conflict.element,
    el("div", { class: "form-actions" }, keep, drop, status.element)),
    trial);

  /** @param {string} name @param {string} words @param {() => void} oninput */
  function numberInput(name, words, oninput) {
    const input = el("input", { id: `choice-${name}`, type: "text", inputmode: "decimal", size: 7, autocomplete: "off", oninput });
    return Object.assign(input, { field: el("div", { class: "field" }, el("label", { for: input.id }, words), input) });
  }

  /** @param {HTMLInputElement} input @param {string} path @param {number} above */
  function onNumber(input, path, above) {
    const text = input.value.trim();
    const value = text === "" ? null : readNumber(text);
    const wrong = text !== "" && (value === null || value <= above);
    mark(input, wrong ? `\u201c${text}\u201d is not a number${above > -Infinity ? ` above ${above}` : ""}.` : "");
    if (!wrong) change([[path, value === null ? null : value / scaleOf(path)]]);
  }

  function onDelay() {
    const [mean, half] = [readNumber(delayMean.value), readNumber(delaySd.value)];
    const sd = half === null ? null : half / scaleOf("protocol.tap_delay_s.sd");
    const empty = delayMean.value.trim() === "" && delaySd.value.trim() === "";
    mark(delayMean, !empty && mean === null ? "A number is needed here." : "");
    mark(delaySd, !empty && (sd === null || sd < 0) ? "A number is needed here, not below 0." : "");
    if (empty) change([["protocol.tap_delay_s", null]]);
    else if (mean !== null && sd !== null && sd >= 0) change([["protocol.tap_delay_s", { mean, sd }]]);
  }

  /** @param {[string, unknown][]} made */
  function change(made) {
    if (!model) return;
    for (const [path, value] of made) {
      const held = stated(model.session.setup, path) ?? null;
      if (!path.startsWith("devices.") && JSON.stringify(held) === JSON.stringify(value)) changes.delete(path);
      else changes.set(path, value);
    }
    keep.disabled = drop.disabled = changes.size === 0;
    clearTimeout(waiting);
    waiting = window.setTimeout(() => void tryIt(), WAIT_MS);
  }

  async function tryIt() {
    if (!model || !units) return;
    if (changes.size === 0) return forget();
    const mine = (tries += 1);
    status.say("Trying it\u2026", "soft");
    try {
      const { result } = await request(`/sessions/${encodeURIComponent(model.id)}/trial`, {
        method: "POST", body: withChanges(model.session.setup, changes), timeoutMs: 120_000,
      });
      if (mine !== tries) return; // overtaken by a later change
      status.say("Nothing is saved yet.", "soft");
      trial.replaceChildren(comparison(model.result, result, units, model.clock));
    } catch (error) {
      if (mine === tries) status.say(`It can\u2019t be tried: ${error instanceof Error ? error.message : error}`, "alarm");
    }
  }

  async function keepIt() {
    if (!model || changes.size === 0) return;
    const wrong = firstWrong(element);
    if (wrong) {
      status.say(`Not saved: ${wrong.problem}`, "alarm");
      return wrong.input.focus();
    }
    if (reason.value.trim() === "") {
      status.say("Please say in a few words why it is changed: the reason stays in the history.", "alarm");
      return point(reason);
    }
    await put(model.session.setup, model.session.revision);
  }

  /** @param {Setup} onto @param {number} base its revision */
  async function put(onto, base) {
    if (!model) return;
    const id = model.id;
    untry();
    keep.disabled = true;
    status.say("Saving\u2026", "soft");
    const setup = { ...withChanges(onto, changes), revised: { by: writer(), reason: reason.value.trim() || null } };
    try {
      await request(`/sessions/${encodeURIComponent(id)}`, { method: "PUT", body: { base, setup } });
      forgetKnown();
      forget();
      status.say(`Saved; the history keeps the choices before. The figures follow.`, "good");
      await onKept();
    } catch (error) {
      keep.disabled = false;
      const held = error instanceof ApiError && error.status === 409
        ? /** @type {{ held?: { revision: number, setup: Setup } } | undefined} */ (error.body)?.held : undefined;
      if (held) {
        status.say("Not saved: somebody else has changed the choices meanwhile.", "alarm");
        conflict.show({
          title: "The choices were changed while you had them open",
          heldBy: /** @type {any} */ (held.setup).revised?.by ?? `revision ${held.revision}`,
          lines: setupDifferences(withChanges(onto, changes), held.setup, model.clock),
          onMine: () => {
            conflict.hide();
            void put(held.setup, held.revision);
          },
          onHeld: () => {
            forget();
            void onKept();
          },
        });
        return;
      }
      status.say(`Not saved: ${error instanceof Error ? error.message : error}`, "alarm");
    }
  }

  /** What is tried or about to be says nothing any more. */
  function untry() {
    clearTimeout(waiting);
    tries += 1;
  }

  function forget() {
    changes.clear();
    untry();
    keep.disabled = drop.disabled = true;
    reason.value = "";
    conflict.hide();
    status.say("", "soft");
    trial.replaceChildren(el("p", { class: "empty" }, "Change a choice: what it does to the figures shows here, before anything is saved."));
    refresh();
  }

  /** Fill every field from the set-up with what was changed on top. */
  function refresh() {
    if (!model) return;
    const setup = withChanges(model.session.setup, changes);
    const number = (/** @type {unknown} */ value) => (typeof value === "number" ? String(value) : "");
    zero.show(model, setup);
    excluded.show(model, setup);
    delayMean.value = number(setup.protocol?.tap_delay_s?.mean);
    delaySd.value = shownAs("protocol.tap_delay_s.sd", setup.protocol?.tap_delay_s?.sd);
    efficiency.value = number(setup.protocol?.charging_efficiency);
    end.value = setup.protocol?.reserve_end ?? "";
    whichEnd.value = setup.protocol?.which_end ?? "";
    for (const { kind, input } of further) input.value = shownAs(kind.path, stated(setup, kind.path));
    for (let wrong = firstWrong(element); wrong; wrong = firstWrong(element)) mark(wrong.input, "");
    facts.show(setup, model.session.events);
    clocks.replaceChildren(...(setup.devices ?? []).map(({ id, clock_offset_ms: offset }) => {
      const input = el("input", { id: `choice-clock-${id}`, type: "text", size: 9, inputmode: "decimal", value: number(offset), autocomplete: "off" });
      input.addEventListener("input", () => onNumber(input, `devices.${id}.clock_offset_ms`, -Infinity));
      return el("div", { class: "field" }, el("label", { for: input.id }, `Add to the times of ${id}, ms`), input);
    }));
  }

  return {
    element,
    /** @param {Model} nextModel @param {Units} nextUnits */
    update(nextModel, nextUnits) {
      model = nextModel;
      units = nextUnits;
      if (changes.size === 0) refresh(); // what is being tried stays
    },
    /**
     * Try the figures without the fixes of one file; whoever did it keeps it or not.
     * @param {import("../session/documents").Exclusion} stretch
     */
    leaveOut(stretch) {
      if (!model) return;
      change([["excluded", [...(withChanges(model.session.setup, changes).excluded ?? []), stretch]]]);
      refresh();
      reason.value ||= stretch.reason ?? "";
      reveal(excluded.element);
      excluded.element.scrollIntoView({ block: "center" });
      reason.focus({ preventScroll: true });
    },
    /** @param {string} field the end of a field's id */
    focus(field) {
      const id = field === "clock" ? clocks.querySelector("input")?.id : `choice-${field}`;
      const target = (id && element.querySelector(`#${CSS.escape(id)}`)) || element.querySelector("input");
      if (!(target instanceof HTMLElement)) return;
      reveal(target);
      target.scrollIntoView({ block: "center" });
      target.focus();
    },
  };
}
