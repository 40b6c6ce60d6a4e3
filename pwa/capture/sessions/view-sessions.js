// @ts-check
/** The first page: start a session, go on with one from this phone, or pick one from the server. */
import { h, onTap, say } from "../page/dom.js";

/** @typedef {import("./types").SessionCard} SessionCard */

/** @param {import("./types").SessionsParts} parts */
export function createSessionsView({ onPhone, create, checkLap, open, exportFile, sendNow, openMenu }) {
  const menu = h("button", { class: "quiet" }, "Menu");
  onTap(menu, openMenu);
  const start = h("button", { class: "key wide primary", "data-action": "create" },
    h("span", {}, "New session"), h("small", {}, "car, course and drive"));
  onTap(start, create);
  const laps = h("button", { class: "key wide", "data-action": "check-lap" },
    h("span", {}, "Check the course"), h("small", {}, "one to three laps against the survey"));
  onTap(laps, checkLap);

  /** @type {Map<string, { state: HTMLElement, send: HTMLElement }>} by session */
  const feet = new Map();

  /** @param {SessionCard} card */
  const item = (card) => {
    const go = h("button", { class: "card-main", "data-session": card.id },
      h("b", {}, card.title), h("span", {}, card.about));
    onTap(go, () => open(card));
    const file = h("button", { class: "quiet", "aria-label": `Save ${card.title} as a file` }, "File");
    onTap(file, () => exportFile(card.id));
    const send = h("button", { class: "quiet", "aria-label": `Send ${card.title} now` }, "Send");
    onTap(send, sendNow);
    feet.set(card.id, { state: h("small"), send });
    const { state } = /** @type {{ state: HTMLElement }} */ (feet.get(card.id));
    return h("li", { class: "card" }, go, h("div", { class: "card-foot" }, state, send, file));
  };

  /** @param {SessionCard[]} cards */
  function showStates(cards) {
    for (const { id, state: words, tone } of cards) {
      const foot = feet.get(id);
      if (!foot) continue;
      say(foot.state, words);
      foot.state.dataset.tone = tone;
      foot.send.hidden = tone === "good";
    }
  }

  const remote = h("div", { class: "remote" });
  const version = h("div", { class: "version" });
  const element = h("main", { class: "page sessions" },
    h("header", { class: "masthead" }, h("h1", {}, "Ebbline"), h("p", {}, "To the bottom of the battery"), menu),
    h("div", { class: "marks", "aria-hidden": "true" }),
    version,
    h("p", { class: "caution" }, h("b", {}, "The passenger operates this phone, never the driver."), " Closed course, owner's permission, chase vehicle with lights."),
    start, laps,
    onPhone.length ? h("section", {}, h("h2", {}, "On this phone"), h("ul", { class: "cards" }, ...onPhone.map(item))) : null,
    remote,
    h("section", { class: "about" }, h("h2", {}, "Before you leave the network"),
      h("p", {}, "Add this page to the home screen, open it from there and allow the position. From then on it starts, records and keeps everything without a network, and sends it when there is one. What can't be sent leaves the phone as a file.")));

  showStates(onPhone);
  return {
    element, showStates,
    /** @param {{ id: string, title: string, about: string }[]} sessions @param {(id: string) => void} pick */
    showRemote(sessions, pick) {
      if (!sessions.length) return;
      remote.replaceChildren(h("h2", {}, "On the server"),
        h("ul", { class: "cards" }, ...sessions.map((one) => {
          const go = h("button", { class: "card-main", "data-remote": one.id },
            h("b", {}, one.title), h("span", {}, one.about));
          onTap(go, () => pick(one.id));
          return h("li", { class: "card" }, go);
        })));
    },
    /** @param {() => void} use */
    offerVersion(use) {
      const button = h("button", { class: "quiet" }, "Use it now");
      onTap(button, use);
      version.replaceChildren(h("p", {}, "A newer version of this page is ready."), button);
    },
  };
}
