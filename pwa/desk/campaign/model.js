// @ts-check
/** A campaign as its page holds it: the definition, the comparison, and each session's result. */
import { ApiError, request } from "../../shared/api.js";

/** @typedef {import("./documents").Campaign} Campaign */
/** @typedef {import("./documents").Comparison} Comparison */
/** @typedef {import("./documents").ComparedSession} ComparedSession */
/** @typedef {import("../session/documents").ResultDocument} ResultDocument */
/** @typedef {import("../plots/marks.js").Shape} Shape */
/** @typedef {ComparedSession & { name: string, shape: Shape }} Row */
/**
 * @typedef {object} Model
 * @property {Campaign} campaign
 * @property {Comparison} comparison
 * @property {Row[]} rows
 * @property {string[]} chemistries the commonest first; each has a shape
 * @property {Map<string, string>} names of all sessions, those left out too
 * @property {Map<string, ResultDocument>} results as far as they are there
 */

const AT_ONCE = 4;
export const SHAPE_OF_NONE = "cross";
/** @type {readonly Shape[]} */
const SHAPES = ["circle", "square", "triangle", "diamond"];

/** @param {string} id @returns {Promise<Model>} */
export async function loadModel(id) {
  const [campaign, comparison] = await Promise.all([
    request(`/campaigns/${encodeURIComponent(id)}`), request(`/campaigns/${encodeURIComponent(id)}/comparison`, { timeoutMs: 60_000 })]);
  return modelOf(campaign, comparison);
}

/** @param {Campaign} campaign @param {Comparison} comparison @returns {Model} */
export function modelOf(campaign, comparison) {
  /** @type {Map<string, number>} */
  const counts = new Map();
  for (const { chemistry } of comparison.sessions) if (chemistry) counts.set(chemistry, (counts.get(chemistry) ?? 0) + 1);
  const chemistries = [...counts.keys()].sort((a, b) => (counts.get(b) ?? 0) - (counts.get(a) ?? 0));
  const rows = comparison.sessions.map((session) => {
    const kind = session.chemistry ? chemistries.indexOf(session.chemistry) : -1;
    return { ...session, name: `${session.tag}  ${session.vehicle}`, shape: SHAPES[kind] ?? SHAPE_OF_NONE };
  });
  const names = new Map(rows.map((row) => [row.session_id, car(row)]));
  return { campaign, comparison, rows, chemistries, names, results: new Map() };
}

/** @param {Pick<Row, "vehicle" | "tag">} row @returns {string} */
export function car({ vehicle, tag }) {
  return `${vehicle} (${tag})`;
}

/**
 * Fill in the results, a few at a time.
 * @param {Model} model
 */
export async function loadResults(model) {
  await each(model.rows.map(({ session_id }) => session_id), async (id) => {
    model.results.set(id, await request(`/sessions/${id}/result`, { timeoutMs: 60_000 }));
  });
}

/**
 * Names of sessions that the comparison leaves out.
 * @param {Model} model
 */
export async function loadNames(model) {
  await each(model.comparison.left_out.filter(({ session_id }) => !model.names.has(session_id)), async ({ session_id, tag }) => {
    const { setup } = await request(`/sessions/${session_id}`);
    const vehicle = setup.vehicle?.label || setup.session?.title || "Session without a name";
    model.names.set(session_id, tag ? car({ vehicle, tag }) : vehicle);
  });
}

/**
 * Have what is behind worked out, one session after the other.
 * @param {Model} model where what can't be worked out is left out with the server's reason
 * @returns {Promise<boolean>} whether anything was
 */
export async function workOut({ comparison }) {
  let any = false;
  for (const id of comparison.behind) {
    try {
      await request(`/sessions/${id}/result`, { timeoutMs: 120_000 });
      any = true;
    } catch (error) {
      const told = comparison.left_out.find(({ session_id: one }) => one === id);
      if (told && error instanceof ApiError && error.status === 422) told.why = error.message;
    }
  }
  return any;
}

/**
 * @template T
 * @param {readonly T[]} items
 * @param {(item: T) => Promise<void>} ask one that fails is passed over
 */
export async function each(items, ask) {
  const left = [...items];
  const worker = async () => {
    for (let item = left.shift(); item !== undefined; item = left.shift()) await ask(item).catch(() => undefined);
  };
  await Promise.all(Array.from({ length: AT_ONCE }, worker));
}

/**
 * The course that all sessions share.
 * @param {Model} model
 * @returns {Promise<string | null>}
 */
export async function courseOf({ rows }) {
  /** @type {Set<string | null>} */
  const courses = new Set();
  await each(rows.map(({ session_id }) => session_id), async (id) => void courses.add((await request(`/sessions/${id}`).catch(() => null))?.setup.course?.label ?? null));
  const [course = null] = courses;
  return courses.size === 1 ? course : null;
}
