// @ts-check
/**
 * The drive page's figures once the car is plugged in: since when, the last power, % and energy
 * with their ages, the state of the charge, and what is worth noting next.
 */
import { h, say } from "../page/dom.js";
import { shortSpan } from "../records/words.js";
import { shownSoc } from "../records/evidence.js";

/** @typedef {import("./types").Charge} Charge */

/** What it is, and what it was when the last reading has grown old. @type {Record<Charge["state"], [string, string]>} */
const STATES = {
  none: ["No power noted yet", "No power noted yet"],
  no_power: ["No power", "Was without power"],
  unknown: ["Not known yet", "Not known"],
  trickling: ["Still trickling", "Was trickling"],
  ramping: ["Ramping up", "Was ramping up"],
  steady: ["Steady", "Was steady"],
  falling: ["Falling", "Was falling"],
  ended: ["Charging ended", "Charging ended"],
};

/** @type {Partial<Record<Charge["state"], string>>} */
const NEXT = {
  none: "first power", no_power: "first power", unknown: "power once more",
  trickling: "power rises", ramping: "power steady",
};

/** @param {Charge} charge @param {number} now_ms */
export function stateWords({ state, power, lasts_ms }, now_ms) {
  const isOld = power !== null && now_ms - power.doc.t_ms >= lasts_ms;
  return STATES[state][isOld ? 1 : 0];
}

/** @param {Charge} charge */
export function nextWords({ state, next_pct }) {
  const next = [NEXT[state], next_pct === null ? "" : `${next_pct}\u00a0%`].filter(Boolean).join(", then ");
  return next && `Next: ${next}`;
}

export function createRechargeView() {
  /** @param {string} name */
  const cell = (name) => {
    const [value, age] = [h("b", { class: "figure" }), h("small")];
    return { element: h("p", {}, h("small", {}, name), value, age), value, age };
  };
  const since = cell("Plugged in");
  const power = cell("Power, kW");
  const soc = cell("Shown, %");
  const energy = cell("In, kWh");
  const figures = h("section", { class: "hero charge", "aria-label": "Recharge" },
    ...[since, power, soc, energy].map(({ element }) => element));
  const [state, next] = [h("b"), h("span")];
  const words = h("p", { class: "charge-state" }, state, next);

  return {
    parts: [figures, words],
    /** @param {Charge | null} charge null: the car isn't plugged in @param {number} now_ms */
    show(charge, now_ms) {
      figures.hidden = words.hidden = charge === null;
      if (!charge) return;
      say(since.value, shortSpan(now_ms - charge.begun_ms));
      /** @param {ReturnType<typeof cell>} where @param {import("../storage/rows").RecordRow | null} row @param {number | null} value */
      const put = (where, row, value) => {
        say(where.value, value === null ? "–" : String(value));
        say(where.age, row ? `${shortSpan(now_ms - row.doc.t_ms)} ago` : "none yet");
      };
      put(power, charge.power, charge.power?.doc.value ?? null);
      put(soc, charge.soc, charge.soc && shownSoc(charge.soc));
      put(energy, charge.energy, charge.energy?.doc.value ?? null);
      say(state, stateWords(charge, now_ms));
      say(next, nextWords(charge));
    },
  };
}
