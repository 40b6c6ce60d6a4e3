// @ts-check
/** A sheet over the page: one at a time, closed by its cross, by Escape or by the back gesture. */
import { h, onPress, watchFit } from "./dom.js";

/** @type {(() => void) | null} closes the one that is open */
let open = null;

/**
 * @param {string | Node} title
 * @param {Node[]} content
 * @param {{ onClose?: () => void, name?: string, aside?: Node, leave?: string }} [options] `leave`: what closing means, where it is no cancel
 * @returns {{ close: () => void, element: HTMLDialogElement }}
 */
export function showSheet(title, content, { onClose, name = "", aside, leave } = {}) {
  closeSheet();
  const heading = h("h2", { id: "sheet-title" }, title);
  const cross = h("button", { class: "cross", "aria-label": leave ?? "Close" }, leave ?? "✕");
  const head = h("header", { class: "sheet-head" }, heading, aside ?? null, cross);
  const body = h("div", { class: "sheet-body" }, ...content);
  const element = h("dialog", { class: `sheet ${name}`, "aria-labelledby": "sheet-title" },
    head, body);
  const close = () => {
    if (open !== close) return;
    open = null;
    element.close();
    element.remove();
    onClose?.();
  };
  onPress(cross, close);
  element.addEventListener("cancel", close); // Escape, or Android's back
  document.body.append(element);
  open = close;
  element.showModal();
  watchFit(body);
  return { close, element };
}

/** @returns {boolean} whether there was one to close */
export function closeSheet() {
  const was = open;
  was?.();
  return was !== null;
}
