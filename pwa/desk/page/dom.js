// @ts-check
/** Elements by code; text is always text, never markup. */

/** @typedef {string | Node | null | undefined | false} Child */
/** @typedef {Record<string, string | number | boolean | null | undefined | ((event: any) => void)>} Attributes */

const SVG = "http://www.w3.org/2000/svg";

/**
 * @param {Element} node
 * @param {Attributes} attributes keys starting with "on" are listeners; null and false are left out
 * @param {Child[]} children
 */
function dress(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name === "style") /** @type {HTMLElement} */ (node).style.cssText = String(value); // no inline style: our policy refuses it
    else if (typeof value === "function") node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  node.append(...children.filter((child) => child !== null && child !== undefined && child !== false));
}

/**
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} tag
 * @param {Attributes} [attributes]
 * @param {...Child} children
 * @returns {HTMLElementTagNameMap[K]}
 */
export function el(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  dress(node, attributes, children);
  return node;
}

/**
 * @param {string} tag
 * @param {Attributes} [attributes]
 * @param {...Child} children
 * @returns {SVGElement}
 */
export function svg(tag, attributes = {}, ...children) {
  const node = /** @type {SVGElement} */ (document.createElementNS(SVG, tag));
  dress(node, attributes, children);
  return node;
}
