// @ts-check
/** The session that the reader looks at, alike in every plot and table of a page. */

/** @typedef {ReturnType<typeof createFocus>} Focus */

/** Esc ends it, wherever the keyboard is. */
export function createFocus() {
  /** @type {string | null} */
  let id = null;
  /** @type {(() => void)[]} */
  const followers = [];
  /** @param {string | null} next */
  function set(next) {
    if (next === id) return;
    id = next;
    for (const follow of followers) follow();
  }
  document.addEventListener("keydown", ({ key }) => key === "Escape" && set(null));
  return {
    at: () => id,
    set,
    /** @param {() => void} follower */
    follow: (follower) => void followers.push(follower),
  };
}
