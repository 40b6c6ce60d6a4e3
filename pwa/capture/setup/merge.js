// @ts-check
/** Bringing two versions of a set-up together. Pure. */

/**
 * Three-way merge of set-ups: what changed here since `base` goes onto what the server holds.
 * Every revision stays on the server, so nothing is lost where both changed the same field.
 * @param {any} base @param {any} ours @param {any} theirs @returns {any}
 */
export function merge(base, ours, theirs) {
  const plain = (/** @type {any} */ x) => x !== null && typeof x === "object" && !Array.isArray(x);
  if (Array.isArray(ours) && Array.isArray(theirs) && [...ours, ...theirs].some((x) => x?.id)) {
    return mergeNamed(Array.isArray(base) ? base : [], ours, theirs);
  }
  if (!plain(ours) || !plain(theirs)) return JSON.stringify(ours) === JSON.stringify(base) ? theirs : ours;
  const merged = { ...theirs };
  for (const key of Object.keys(ours)) {
    merged[key] = key in theirs ? merge(base?.[key], ours[key], theirs[key]) : ours[key];
  }
  return merged;
}

/**
 * Lists whose items have an id, within their device where they name one (ticks of a checklist).
 * @param {any[]} base @param {any[]} ours @param {any[]} theirs @returns {any[]}
 */
function mergeNamed(base, ours, theirs) {
  const name = (/** @type {any} */ x) => JSON.stringify([x?.device ?? null, x?.id ?? null]);
  const named = (/** @type {any[]} */ list) => new Map(list.map((x) => [name(x), x]));
  const [was, mine, held] = [named(base), named(ours), named(theirs)];
  const kept = theirs
    .filter((x) => mine.has(name(x)) || !was.has(name(x))) // else taken off here
    .map((x) => (mine.has(name(x)) ? merge(was.get(name(x)), mine.get(name(x)), x) : x));
  return [...kept, ...ours.filter((x) => !held.has(name(x)))];
}
