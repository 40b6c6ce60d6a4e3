// @ts-check
/** Fixes that are kept but not used: stretches of one device, each with its reason. */
import { startOf } from "../evidence/entry-form.js";
import { el } from "../page/dom.js";
import { point } from "../page/form-status.js";

/** @typedef {import("../session/documents").Exclusion} Exclusion */

/**
 * @param {() => [number, number] | null} viewed the part of the timeline in view, session time in ms
 * @param {(excluded: Exclusion[]) => void} onChange
 */
export function createExcludedField(viewed, onChange) {
  /** @type {import("../session/model.js").Model | null} */
  let model = null;
  /** @type {Exclusion[]} */
  let excluded = [];
  const list = el("ul", { class: "excluded" });
  const device = el("select", { "aria-label": "Device whose positions are left out" });
  const from = el("input", { type: "text", size: 9, placeholder: "hh:mm:ss", "aria-label": "Left out from" });
  const to = el("input", { type: "text", size: 9, placeholder: "hh:mm:ss", "aria-label": "Left out to" });
  const reason = el("input", { type: "text", size: 18, placeholder: "why", "aria-label": "Why they are left out" });
  const element = el("fieldset", { class: "choice choice-wide", id: "choice-excluded", tabindex: -1 },
    el("legend", {}, "Positions left out"), list,
    el("div", { class: "field-joined excluded-add" }, device, from, "to", to, reason,
      el("button", {
        type: "button", class: "quiet", onclick: () => {
          const view = viewed();
          if (!view || !model) return;
          from.value = model.clock.time(view[0], 1);
          to.value = model.clock.time(view[1], 1);
        },
      }, "The part in view"),
      el("button", { type: "button", class: "quiet", onclick: add }, "Leave out")));

  function add() {
    if (!model) return;
    const near = model.curves.t_ms[0] ?? startOf(model);
    const [fromMs, toMs] = [model.clock.parse(from.value, near), model.clock.parse(to.value, near)];
    if (fromMs === null) return point(from);
    if (toMs === null || toMs <= fromMs) return point(to);
    if (reason.value.trim() === "") return point(reason);
    onChange([...excluded, { device: device.value, from_ms: fromMs, to_ms: toMs, reason: reason.value.trim() }]);
    from.value = to.value = reason.value = "";
  }

  return {
    element,
    /** @param {import("../session/model.js").Model} next @param {import("../session/documents").Setup} setup */
    show(next, setup) {
      model = next;
      excluded = setup.excluded ?? [];
      const devices = [...new Set([...(setup.devices ?? []).map(({ id }) => id), ...next.session.events.map((event) => event.device), ...next.session.imported_files.map((one) => one.device)])].filter((id) => id !== "desk");
      device.replaceChildren(...devices.map((id) => el("option", { value: id }, id)));
      list.replaceChildren(...(excluded.length ? excluded.map((one, i) => el("li", {},
        `${one.device}, ${next.clock.time(one.from_ms)} to ${next.clock.time(one.to_ms)}`, one.reason ? `: ${one.reason} ` : " ",
        el("button", {
          type: "button", class: "quiet small", "aria-label": `Use the positions from ${next.clock.time(one.from_ms)} again`,
          onclick: () => onChange(excluded.filter((_, k) => k !== i)),
        }, "Use again"))) : [el("li", { class: "soft" }, "None")]));
    },
  };
}
