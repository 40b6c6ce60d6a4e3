// @ts-check
/** A session file or an archive with photos: taken whole or refused whole, as often as it comes. */
import { request } from "../../shared/api.js";
import { formatNumber } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { keptWords } from "../session/spoken.js";
import { createAccount } from "./account.js";
import { send, succeeded } from "./send.js";

/**
 * @param {File} file
 * @param {() => Promise<void>} onImported
 * @returns {HTMLElement} its account
 */
export function takeSessionFile(file, onImported) {
  const account = createAccount(file.name);
  account.progress(0);
  void (async () => {
    const type = /\.zip$/i.test(file.name) ? "application/zip" : "application/json";
    const answer = await send("/sessions/import", file, type, account.progress);
    if (!succeeded(answer)) {
      account.bad(answer);
      return;
    }
    const { status, body } = answer;
    const held = ["events", "readings", "fixes"]
      .filter((name) => typeof body[name] === "number").map((name) => `${formatNumber(body[name], 0)} ${name}`).join(", ");
    const link = el("a", { href: `/desk?session=${encodeURIComponent(body.id)}` }, "Open it");
    account.good(`${status === 201 ? "Imported" : "Already here, nothing changed"}${held && `: ${held}`}. `, link);
    const session = await request(`/sessions/${encodeURIComponent(body.id)}`).catch(() => null);
    if (session) {
      const { title } = session.setup.session ?? {};
      const said = [title && `\u201c${title}\u201d`, ...keptWords(session.photos ?? [])].filter(Boolean).join(", ");
      link.before(said && `${said}. `);
    }
    await onImported();
  })();
  return account.element;
}
