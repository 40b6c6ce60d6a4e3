// @ts-check
/**
 * The rules that must hold without a server: which records stand, under which kind an event counts,
 * and where zero is. The server has them in measure/standing.py and measure/reserve/span.py; both
 * are held to the cases in tests/rules/cases.json. Pure.
 */

/**
 * @typedef {object} Correctable what an event or a reading of the session file has of this
 * @property {string} id
 * @property {string | null} [corrects]
 * @property {boolean} [withdraws] of an event
 * @property {string} [quantity] only a reading has one
 * @property {number | null} [value]
 */
/** @typedef {{ mean: number, sd: number }} Delay */
/**
 * @typedef {object} Tap what an event of the session file has of this
 * @property {string} id
 * @property {string} kind
 * @property {number} t_ms
 * @property {number | null} [value]
 * @property {string | null} [unit]
 * @property {Delay | number | null} [tap_delay_s]
 */
/** @typedef {"zero_soc" | "zero_range" | "moment"} ZeroBasis */
/**
 * @typedef {object} Protocol the part of it that is read here
 * @property {string | null} [zero_basis]
 * @property {number | null} [zero_ms]
 * @property {Delay | null} [tap_delay_s]
 */
/**
 * @template T
 * @typedef {object} Chain
 * @property {T} record the last of all that goes back to one original
 * @property {T[]} earlier what it replaced, newest first
 * @property {boolean} withdrawn it only takes the earlier ones back
 */

/** Where nobody states it, as in records.py. */
const USUAL_TAP_DELAY_S = { mean: 1.15, sd: 0.5 };
const ZERO_KINDS = /** @type {const} */ (["zero_soc", "zero_range"]);

/**
 * Of a record and all that goes back to it, the last that nothing replaces.
 * @template {Correctable} T
 * @param {readonly T[]} records events or readings, in order of recording
 * @returns {Chain<T>[]} one for each original, in the same order
 */
export function chains(records) {
  const byId = new Map(records.map((record) => [record.id, record]));
  const replaced = new Set(records.map((record) => record.corrects));
  /** @type {Map<string, Chain<T>>} */
  const last = new Map();
  for (const record of records) {
    if (replaced.has(record.id)) continue;
    /** @type {T[]} */
    const earlier = [];
    let original = record.id;
    for (let before = record.corrects; before; ) {
      original = before;
      const found = byId.get(before);
      if (found) earlier.push(found);
      before = found?.corrects;
    }
    last.delete(original); // of several the last, in its place
    last.set(original, { record, earlier, withdrawn: withdraws(record) });
  }
  return [...last.values()];
}

/** @param {Correctable} record a reading is withdrawn by a correction without a value */
export const withdraws = (record) =>
  record.quantity === undefined ? record.withdraws === true : (record.value ?? null) === null;

/**
 * @template {Correctable} T
 * @param {readonly T[]} records in order of recording
 * @returns {T[]} those that count, in the same order
 */
export const standing = (records) =>
  chains(records).flatMap(({ record, withdrawn }) => (withdrawn ? [] : [record]));

/**
 * An event as it counts: a step of the display to 0 % is the 0 % itself.
 * @template {{ kind: string, value?: number | null, unit?: string | null }} T
 * @param {T} event
 * @returns {T} the same where nothing differs
 */
export const asReported = (event) =>
  event.kind === "soc_step" && event.value === 0
    ? { ...event, kind: "zero_soc", value: null, unit: null } : event;

/**
 * The moment that a tap reports: its stamp less the tap's delay.
 * @param {Tap} tap @param {Protocol} protocol
 * @returns {number} milliseconds
 */
function moment_ms({ t_ms, tap_delay_s: own }, { tap_delay_s: usual }) {
  const delay_s = typeof own === "number" ? own : (own ?? usual ?? USUAL_TAP_DELAY_S).mean;
  return t_ms - 1000 * delay_s;
}

/**
 * Zero by the protocol's basis, else 0 % shown, else range 0: the first tap of it.
 * @template {Tap} T
 * @param {readonly T[]} events those that stand
 * @param {Protocol} protocol
 * @returns {{ basis: ZeroBasis, t_ms: number } | null} the moment of it
 */
export function zeroOf(events, protocol) {
  if (protocol.zero_basis === "moment" && typeof protocol.zero_ms === "number") {
    return { basis: "moment", t_ms: protocol.zero_ms };
  }
  const bases = protocol.zero_basis === "zero_range" ? ZERO_KINDS.toReversed() : ZERO_KINDS;
  for (const basis of bases) {
    const moments_ms = ofKind(events, basis).map((tap) => moment_ms(tap, protocol));
    if (moments_ms.length) return { basis, t_ms: Math.min(...moments_ms) };
  }
  return null;
}

/**
 * The tap that another one of the same zero is second to, while driving: a charger may wake the
 * display at 0.
 * @template {Tap} T
 * @param {readonly T[]} events those that stand
 * @param {{ kind: string, value?: number | null, t_ms: number }} another
 * @returns {T | null}
 */
export function sameZero(events, another) {
  const kind = ZERO_KINDS.find((zero) => zero === asReported(another).kind);
  const plugged = ofKind(events, "plug_in")[0] ?? ofKind(events, "charge_start")[0];
  if (!kind || (plugged && another.t_ms >= plugged.t_ms)) return null;
  return ofKind(events, kind)[0] ?? null;
}

/**
 * @template {Tap} T
 * @param {readonly T[]} events @param {string} kind
 * @returns {T[]} in order of their stamps
 */
const ofKind = (events, kind) =>
  events.filter((event) => asReported(event).kind === kind).sort((a, b) => a.t_ms - b.t_ms);
