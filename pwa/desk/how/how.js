// @ts-check
/** Shows how a figure was reached while a pointer or the keyboard rests on it. */
import { el } from "../page/dom.js";

/** @type {WeakMap<Element, { title: string, lines: () => string[] }>} */
const told = new WeakMap();

/**
 * @template {HTMLElement} T
 * @param {T} node of a figure
 * @param {string} title
 * @param {() => string[]} lines asked for only when they are shown
 * @returns {T}
 */
export function explained(node, title, lines) {
  node.dataset.how = "";
  told.set(node, { title, lines });
  return node;
}

/**
 * The panel, for a page; it goes by Escape, and stays while the pointer is on it (WCAG 2.2, 1.4.13).
 * @param {HTMLElement} host
 * @returns {HTMLElement}
 */
export function createHow(host) {
  const panel = el("div", { class: "card how", id: "how", role: "tooltip", hidden: true });
  let leaving = 0;
  /** @type {Element | null} */
  let shown = null;

  /** @param {Element} node */
  function show(node) {
    clearTimeout(leaving);
    const why = told.get(node);
    if (!why || shown === node) return;
    shown = node;
    panel.replaceChildren(el("b", {}, why.title), el("ul", {}, ...why.lines().map((line) => el("li", {}, line))));
    panel.hidden = false;
    const [box, frame] = [node.getBoundingClientRect(), (panel.offsetParent ?? document.body).getBoundingClientRect()];
    const left = Math.max(8, Math.min(box.left, window.innerWidth - panel.offsetWidth - 16));
    const below = box.bottom + panel.offsetHeight + 8 < window.innerHeight || box.top < panel.offsetHeight + 8;
    panel.style.left = `${left - frame.left}px`;
    panel.style.top = `${(below ? box.bottom + 4 : box.top - panel.offsetHeight - 4) - frame.top}px`;
  }

  function hide() {
    clearTimeout(leaving);
    shown = null;
    panel.hidden = true;
  }

  const figureOf = (/** @type {EventTarget | null} */ target) => (target instanceof Element ? target.closest("[data-how]") : null);
  host.addEventListener("pointerover", (event) => {
    const node = figureOf(event.target);
    if (node) {
      clearTimeout(leaving);
      leaving = window.setTimeout(() => show(node), 250);
    } else if (panel.contains(/** @type {Node} */ (event.target))) clearTimeout(leaving);
    else if (shown) {
      clearTimeout(leaving);
      leaving = window.setTimeout(hide, 250);
    }
  });
  host.addEventListener("focusin", (event) => {
    const node = figureOf(event.target);
    const own = event.target === node; // a cell that the arrows went to
    if (node && (own || (event.target instanceof HTMLButtonElement && event.target.matches(".how-button")))) show(node);
    if (own) node?.setAttribute("aria-describedby", panel.id);
    else if (shown && node !== shown && !panel.contains(/** @type {Node} */ (event.target))) hide();
  });
  host.addEventListener("click", (event) => {
    const node = figureOf(event.target);
    if (node && event.target instanceof HTMLButtonElement && event.target.matches(".how-button")) show(node);
  });
  host.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && shown) hide();
  });
  window.addEventListener("resize", hide); // what it points at moves, and the page may become narrower than it
  return panel;
}
