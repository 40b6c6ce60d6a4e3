// @ts-check
/** The session that the reader looks at, alike in every plot and table of a page. */

/** @typedef {ReturnType<typeof createFocus>} Focus */

export function createFocus() {
  /** @type {string | null} */
  let id = null;
  /** @type {(() => void)[]} */
  const followers = [];
  return {
    at: () => id,
    /** @param {string | null} next */
    set(next) {
      if (next === id) return;
      id = next;
      for (const follow of followers) follow();
    },
    /** @param {() => void} follower */
    follow: (follower) => void followers.push(follower),
  };
}
