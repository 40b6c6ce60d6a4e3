// @ts-check
/** Which run is followed, and by what right: an address with a session, or with a code's token. */

const KEY = "ebbline.follow";

/** @typedef {{ session: string, token: string | null }} Ticket */

/**
 * Read the address. A token leaves it at once, and stays with this tab: it must be in no history
 * and on no picture of the screen.
 * @param {Location} location
 * @param {History} history
 * @param {Pick<Storage, "getItem" | "setItem">} storage
 * @returns {Ticket | null} null when the address names no run
 */
export function takeTicket(location, history, storage) {
  const hash = decodeURIComponent(location.hash.slice(1));
  const token = /^join=(([0-9a-f-]{36})\.\S+)$/i.exec(hash);
  if (token?.[1] && token[2]) {
    const ticket = { session: token[2].toLowerCase(), token: token[1] };
    keep(storage, ticket);
    history.replaceState(history.state, "", `${location.pathname}#${ticket.session}`);
    return ticket;
  }
  if (!/^[0-9a-f-]{36}$/i.test(hash)) return null;
  const session = hash.toLowerCase();
  const kept = read(storage);
  return kept?.session === session ? kept : { session, token: null };
}

/** @param {Pick<Storage, "setItem">} storage @param {Ticket} ticket */
function keep(storage, ticket) {
  try {
    storage.setItem(KEY, JSON.stringify(ticket));
  } catch {
    // blocked storage: the code has to be scanned again after a reload
  }
}

/** @param {Pick<Storage, "getItem">} storage @returns {Ticket | null} */
function read(storage) {
  try {
    return JSON.parse(storage.getItem(KEY) ?? "null");
  } catch {
    return null;
  }
}
