// @ts-check
/** Where zero is: a choice of three, the third a moment that somebody picks. */
import { startOf } from "../evidence/entry-form.js";
import { createMomentField } from "../evidence/moment-field.js";
import { ZERO_BASES, zeroName } from "../../shared/vocabulary.js";
import { el } from "../page/dom.js";
import { mark } from "../page/form-status.js";

/** @typedef {import("../session/documents").Setup} Setup */

/**
 * @param {import("../session/cursor.js").Cursor} cursor
 * @param {(changes: [string, unknown][]) => void} onChange
 */
export function createZeroField(cursor, onChange) {
  const moment = createMomentField(cursor, "choice-zero-ms");
  const radios = ZERO_BASES.map((value) => {
    const input = el("input", { type: "radio", name: "zero-basis", value, id: `choice-${value === "moment" ? "zero_moment" : value}`, onchange: tell });
    return { input, label: el("label", { class: "radio" }, input, zeroName(value)) };
  });
  const at = el("div", { class: "zero-moment", hidden: true }, moment.element);
  at.addEventListener("input", tell);
  at.addEventListener("click", (event) => event.target instanceof HTMLButtonElement && tell());
  const element = el("fieldset", { class: "choice" }, el("legend", {}, "Zero"), ...radios.map(({ label }) => label), at);

  function tell() {
    const basis = radios.find(({ input }) => input.checked)?.input.value ?? null;
    at.hidden = basis !== "moment";
    const tMs = moment.read();
    mark(moment.input, basis === "moment" && moment.input.value !== "" && tMs === null ? "That isn\u2019t a time of this session." : "");
    if (basis === "moment" && tMs === null) return; // not chosen until the moment is
    onChange([["protocol.zero_basis", basis], ["protocol.zero_ms", basis === "moment" ? tMs : null]]);
  }

  return {
    element,
    /** @param {import("../session/model.js").Model} model @param {Setup} setup */
    show(model, setup) {
      moment.update(model, startOf(model));
      const basis = setup.protocol?.zero_basis ?? model.result.zero.basis ?? "zero_soc";
      for (const { input } of radios) input.checked = input.value === basis;
      at.hidden = basis !== "moment";
      const zeroMs = setup.protocol?.zero_ms;
      if (typeof zeroMs === "number") moment.set(zeroMs);
      else moment.clear();
    },
  };
}
