// @ts-check
/** Tracks and cards for one camera's film. */
import { el } from "../page/dom.js";
import { createFormStatus } from "../page/form-status.js";
import { working } from "../page/keep-focus.js";
import { saveFrom } from "../page/save-file.js";

/** @typedef {import("./offer").Offer} Offer */
/** @typedef {import("./offer").Piece} Piece */

const FRAMES = ["23.976", "24", "25", "29.97", "30", "50", "59.94", "60"];
const RATES = [["1", "one a second"], ["5", "five a second"], ...FRAMES.map((fps) => [fps, `each frame of ${fps} fps`])];

/**
 * @param {Offer} offer
 * @param {Piece[]} pieces those of films
 * @param {(piece: Piece) => string} address
 * @returns {Node[]}
 */
export function filmPart(offer, pieces, address) {
  const first = offer.cameras[0];
  if (!first) {
    const why = offer.missing.find(({ title }) => title.startsWith("Captions"))?.why ?? "";
    return [el("p", { class: "publish-none" }, why.charAt(0).toUpperCase() + why.slice(1))];
  }
  const words = el("p", { class: "hint" });
  const links = el("ul", { class: "publish-links" });
  const status = createFormStatus();
  const rate = el("select", { id: "card-rate" }, ...RATES.map(([value, name]) => el("option", { value: value ?? "1" }, name ?? "")));
  const left = el("input", { type: "checkbox", id: "captions-left", onchange: () => choose(camera.value) });
  /** @type {Piece | undefined} */
  let cards;
  const make = el("button", {
    type: "button", class: "button-plain",
    onclick: () => void working(make, async () => {
      if (!cards) return;
      status.say("Drawing the cards\u2026", "soft");
      try {
        await saveFrom(`${address(cards)}&rate=${rate.value}`);
        status.say("Saved as a ZIP of PNG.", "good");
      } catch (error) {
        status.say(`Not made: ${error instanceof Error ? error.message : error}`, "alarm");
      }
    }),
  }, "Save the cards");
  const cardRow = el("div", { class: "publish-cards" },
    el("p", {}, "Data cards: distance and energy past zero, to lay over the film"),
    el("div", { class: "publish-card-row" }, el("label", { for: rate.id }, "How many"), rate, make), status.element);
  const camera = el("select", { id: "film-camera", onchange: () => choose(camera.value) },
    ...offer.cameras.map(({ name }) => el("option", { value: name }, name)));

  /** @param {string} name */
  function choose(name) {
    words.textContent = offer.cameras.find((each) => each.name === name)?.words ?? "";
    const its = pieces.filter((piece) => piece.camera === name);
    links.replaceChildren(...its.filter(({ key }) => key !== "cards")
      .map((piece) => {
        const told = left.checked && piece.key.startsWith("captions") ? "&left=true" : "";
        return el("li", {}, el("a", { href: address(piece) + told, download: true }, piece.title));
      }));
    cards = its.find(({ key }) => key === "cards");
    cardRow.hidden = cards === undefined;
  }
  choose(first.name);
  return [el("div", { class: "publish-camera" }, el("label", { for: camera.id }, "Camera"), camera), words, links,
    el("label", { class: "publish-left" }, left, " Captions say what was left, which gives the end away"), cardRow];
}
