// @ts-check
/** What can be published of a session: the report to look at, pictures, film tracks, data. */
import { request } from "../../shared/api.js";
import { formatQuantity } from "../../shared/units.js";
import { el } from "../page/dom.js";
import { createFormStatus } from "../page/form-status.js";
import { working } from "../page/keep-focus.js";
import { filmPart } from "./film.js";
import { createPreview } from "./preview.js";
import { createPublished } from "./published.js";
import { createToPaste } from "./to-paste.js";
import { saveFrom } from "../page/save-file.js";

/** @typedef {import("./offer").Offer} Offer */
/** @typedef {import("./offer").Piece} Piece */

const WORDS_OF_TYPE = {
  "text/html": "HTML", "application/pdf": "PDF", "image/png": "PNG", "image/svg+xml": "SVG", "text/csv": "CSV",
  "application/gpx+xml": "GPX", "application/json": "JSON", "text/vtt": "WebVTT", "text/plain": "text", "application/x-subrip": "SRT",
};

/**
 * @param {string} id session
 */
export function createPublish(id) {
  const base = `/api/sessions/${encodeURIComponent(id)}`;
  let units = ""; // as the addresses of all pieces carry them
  let wanted = ""; // which evidence the parts on screen are of
  let near = false;
  const preview = createPreview(id);
  const toPaste = createToPaste(id);
  const published = createPublished(`/sessions/${encodeURIComponent(id)}`, "session", (/** @type {import("./offer").PublishedSession} */ { figures }, shown) => {
    const told = [formatQuantity("distance", figures.reserve_distance_m, shown), formatQuantity("energy", figures.reserve_energy_kwh, shown)];
    const words = told.flatMap((figure) => (figure ? [figure.text] : []));
    return words.length > 0 ? `${words.join(", ")} past zero` : "No reserve was given";
  });
  const status = createFormStatus();
  const all = el("button", {
    type: "button", class: "primary",
    onclick: () => void working(all, async () => {
      status.say("Drawing and setting every piece; this takes a few seconds\u2026", "soft");
      try {
        await saveFrom(`${base}/publish/all?${units}`);
        status.say("Saved as one ZIP.", "good");
      } catch (error) {
        status.say(`Not saved: ${error instanceof Error ? error.message : error}`, "alarm");
      }
    }),
  }, "Save everything as a ZIP");
  const parts = el("div", { class: "publish-parts" });
  const element = el("div", { class: "publish", "aria-busy": "true" },
    preview.element,
    el("div", { class: "publish-side" },
      el("div", { class: "publish-all" }, all, status.element),
      part("To paste", toPaste.element),
      parts,
      el("p", { class: "hint" }, "Everything is worked out anew from the evidence as it stands; a correction changes it. "
        + "Each piece names the engine and the evidence it came from."),
      part("Record", published.element)));

  /** @param {Piece} piece */
  const address = (piece) => `${base}/publish/${piece.key}?${units}`
    + (piece.camera ? `&camera=${encodeURIComponent(piece.camera)}` : "");

  /**
   * @param {Piece} piece
   * @param {string} [words]
   */
  const link = (piece, words) =>
    el("a", { href: address(piece), download: true }, words ?? typeName(piece));

  /** @param {Piece} piece */
  const named = (piece) => el("span", {}, link(piece, piece.title), " ", el("span", { class: "soft" }, typeName(piece)));

  /** @param {Offer} offer */
  function show(offer) {
    const of = (/** @type {Piece["group"]} */ group) => offer.pieces.filter((piece) => piece.group === group);
    parts.replaceChildren(
      part("Report", el("ul", { class: "publish-links" },
        ...of("report").map((piece) => el("li", {}, named(piece))))),
      part("Pictures", of("pictures").length === 0
        ? el("p", { class: "empty" }, "The evidence allows no picture yet.")
        : el("ul", { class: "publish-pictures" }, ...pictures(of("pictures")).map(({ title, shapes }) => el("li", {},
          el("a", { class: "publish-picture", href: address(/** @type {Piece} */ (shapes[0]?.png)), target: "_blank", rel: "noopener" },
            el("img", { src: address(/** @type {Piece} */ (shapes[0]?.png)), alt: title, loading: "lazy", width: 1920, height: 1080 })),
          el("p", {}, title),
          el("p", { class: "publish-formats" }, ...shapes.flatMap(({ shape, png, svg }) => [
            el("span", {}, shape), png && link(png), svg && link(svg)])))))),
      part("Film", ...filmPart(offer, of("film"), address)),
      part("Data", el("ul", { class: "publish-links" },
        ...of("data").map((piece) => el("li", {}, named(piece))),
        el("li", {}, el("a", { href: `${base}/file`, download: true }, "Session file, with its photos")))),
      ...missing(offer));
    element.setAttribute("aria-busy", "false");
  }

  async function load() {
    const asked = wanted;
    try {
      const offer = /** @type {Offer} */ (await request(`/sessions/${encodeURIComponent(id)}/publish`, { timeoutMs: 120_000 }));
      if (asked === wanted) show(offer);
    } catch (error) {
      element.setAttribute("aria-busy", "false");
      parts.replaceChildren(el("p", { class: "trouble", role: "alert" },
        `What can be published can\u2019t be told: ${error instanceof Error ? error.message : error} `,
        el("button", { type: "button", class: "quiet", onclick: () => void load() }, "Try again")));
    }
  }

  function refresh() {
    if (!near || !wanted) return;
    void load();
    void toPaste.show(units);
    void preview.show(units);
  }

  // drawing takes the server a second: only for who comes this far down
  new IntersectionObserver(([entry], observer) => {
    if (!entry?.isIntersecting) return;
    observer.disconnect();
    near = true;
    refresh();
  }, { rootMargin: "400px" }).observe(element);

  return {
    element,
    flag: published.flag,
    /**
     * @param {import("../session/model.js").Model} model
     * @param {import("../../shared/units.js").Units} nextUnits
     */
    update(model, nextUnits) {
      const { distance, consumption, temperature } = nextUnits;
      const asked = String(new URLSearchParams({ units: distance, consumption, temperature }));
      const next = `${model.result.input_sha256} ${asked}`;
      if (next === wanted) return;
      units = asked;
      wanted = next;
      published.show(nextUnits);
      refresh();
    },
  };
}

/** @param {Piece} piece */
function typeName(piece) {
  return WORDS_OF_TYPE[/** @type {keyof typeof WORDS_OF_TYPE} */ (piece.media_type)] ?? piece.media_type;
}

/**
 * @param {string} title
 * @param {...Node} children
 */
function part(title, ...children) {
  return el("section", { class: "publish-part" }, el("h3", {}, title), el("div", { class: "publish-body" }, ...children));
}

/** @param {Offer} offer */
function missing(offer) {
  if (offer.missing.length === 0) return [];
  return [el("details", { class: "publish-missing" },
    el("summary", {}, offer.missing.length === 1 ? "1 piece can\u2019t be had yet" : `${offer.missing.length} pieces can\u2019t be had yet`),
    el("dl", {}, ...offer.missing.flatMap(({ title, why }) => [el("dt", {}, title), el("dd", {}, why)])))];
}

/**
 * @param {Piece[]} pieces
 * @returns {{ title: string, shapes: { shape: string, png?: Piece | undefined, svg?: Piece | undefined }[] }[]}
 */
function pictures(pieces) {
  const titles = [...new Set(pieces.map(({ title }) => title))];
  return titles.map((title) => {
    const same = pieces.filter((piece) => piece.title === title);
    return {
      title,
      shapes: [["16x9", "16:9"], ["1x1", "1:1"]].map(([key, shape]) => ({
        shape: shape ?? "",
        png: same.find((piece) => piece.key.endsWith(`-${key}-png`)),
        svg: same.find((piece) => piece.key.endsWith(`-${key}-svg`)),
      })),
    };
  });
}
