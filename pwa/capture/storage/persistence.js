// @ts-check
/** Whether the browser promises to keep what this page stores, and how much room there is. */

/** @typedef {{ kept: boolean | null, free_bytes: number | null }} Persistence  null: not told */

/**
 * @param {StorageManager | undefined} storage
 * @param {boolean} ask whether to ask for the promise, not only look
 * @returns {Promise<Persistence>}
 */
export async function persistence(storage, ask) {
  const kept = await storage?.persisted?.() ?? null;
  const now = kept === false && ask ? await storage?.persist?.() ?? false : kept;
  const estimate = await storage?.estimate?.() ?? {};
  const free_bytes =
    estimate.quota === undefined ? null : estimate.quota - (estimate.usage ?? 0);
  return { kept: now, free_bytes };
}
