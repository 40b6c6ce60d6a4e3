// @ts-check
/**
 * A long page as parts of which one is open, like the leaves of a journal. Each keeps its anchor and
 * its headings: an address leads to it, Back returns, searching the page finds what is in a closed
 * one and opens it, and print has them all.
 */
import { el } from "./dom.js";

const CLOSED = "until-found"; // hidden, but found by the browser's own search and by anchors
const REVEAL = "part-wanted";

/**
 * @typedef {object} Part
 * @property {string} anchor id of its first section
 * @property {string} words
 * @property {Node[]} content
 */

/** @param {Element} node what is to be seen: the part that it is in opens */
export function reveal(node) {
  node.dispatchEvent(new Event(REVEAL, { bubbles: true }));
  for (let fold = node.closest("details"); fold; fold = fold.parentElement?.closest("details") ?? null) fold.open = true;
}

/**
 * @param {Part[]} parts in their order; the first is open
 * @param {string} name of all of them
 */
export function createParts(parts, name) {
  const leaves = parts.map(({ anchor, words, content }, i) => {
    const link = el("a", { href: `#${anchor}` }, words);
    const next = parts[i + 1];
    const onward = next && el("p", { class: "leaf-next" }, "Next: ", el("a", { href: `#${next.anchor}` }, next.words));
    return { anchor, link, onward, leaf: el("div", { class: "leaf" }, ...content, onward) };
  });
  const nav = el("nav", { class: "parts", "aria-label": name }, ...leaves.map(({ link }) => link));
  const element = el("div", { class: "leaves" }, ...leaves.map(({ leaf }) => leaf));

  /** @param {Node} node */
  function openFor(node) {
    const wanted = leaves.find(({ leaf }) => leaf.contains(node));
    if (!wanted) return;
    for (const { link, leaf } of leaves) {
      if (leaf === wanted.leaf) leaf.removeAttribute("hidden");
      else leaf.setAttribute("hidden", CLOSED);
      if (link === wanted.link) link.setAttribute("aria-current", "true");
      else link.removeAttribute("aria-current");
    }
    wanted.link.scrollIntoView({ block: "nearest", inline: "nearest" });
  }

  /** @param {string} anchor @returns {boolean} whether it leads anywhere here */
  function show(anchor) {
    const target = document.getElementById(anchor);
    if (!target) return false;
    reveal(target);
    const head = target.matches("input, select, button, h1, h2, h3") ? target : target.querySelector("h1, h2, h3, a");
    target.scrollIntoView({ block: head === target ? "center" : "start" });
    if (!(head instanceof HTMLElement)) return true;
    if (!head.matches("input, select, button, a")) head.tabIndex = -1;
    head.focus({ preventScroll: true });
    return true;
  }

  /** @param {string} anchor */
  function goTo(anchor) {
    if (show(anchor) && window.location.hash !== `#${anchor}`) window.history.pushState(null, "", `#${anchor}`);
  }

  element.addEventListener(REVEAL, (event) => openFor(/** @type {Node} */ (event.target)));
  element.addEventListener("beforematch", (event) => openFor(/** @type {Node} */ (event.target)), true);
  const asked = () => void show(decodeURIComponent(window.location.hash.slice(1)));
  window.addEventListener("hashchange", asked);
  if (leaves[0]) openFor(leaves[0].leaf);

  return {
    nav, element, goTo,
    /** Follow a link to one of the parts, wherever on the page it stands. @param {MouseEvent} event */
    follow(event) {
      const link = event.target instanceof Element ? event.target.closest("a[href^='#']") : null;
      if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      goTo(link.getAttribute("href")?.slice(1) ?? "");
    },
    /** Open what the address asks for, once it is there. */
    asAddressed: asked,
    /** @param {string} anchor @param {boolean} gone there is nothing in it to go to */
    drop(anchor, gone) {
      const dropped = leaves.find((one) => one.anchor === anchor);
      if (!dropped) return;
      dropped.link.hidden = gone;
      const before = leaves[leaves.indexOf(dropped) - 1]?.onward;
      if (before) before.hidden = gone;
      if (gone && !dropped.leaf.hasAttribute("hidden")) {
        const other = leaves.find(({ link }) => !link.hidden);
        if (other) openFor(other.leaf);
      }
    },
  };
}
