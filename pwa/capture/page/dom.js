// @ts-check
/** Building elements without HTML strings, and touching them without delay or ghosts. */

/**
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} tag
 * @param {Record<string, unknown>} [attributes] true sets an empty one, false and null leave it out
 * @param {...(Node | string | null)} children
 * @returns {HTMLElementTagNameMap[K]}
 */
export function h(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  if (tag === "button") element.setAttribute("type", "button"); // one that submits says so
  for (const [name, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    element.setAttribute(name, value === true ? "" : String(value));
  }
  for (const child of children) if (child !== null) element.append(child);
  return element;
}

/**
 * Set text only where it differs, so that nothing is laid out or announced without need.
 * @param {Node} node @param {string} text
 */
export function say(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

const GHOST_MS = 800;
let lastPress_ms = -Infinity;

/**
 * Act the moment the finger comes down; for buttons that never scroll. A keyboard or a screen
 * reader comes by click.
 * @param {HTMLElement} element
 * @param {(at_mono_ms: number) => void} act given the moment of the touch, performance.now() time
 * @param {number} [bounce_ms] a second touch within this of the first is the shaking car
 */
export function onPress(element, act, bounce_ms = 0) {
  let last_ms = -Infinity;
  element.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    lastPress_ms = event.timeStamp;
    if (event.timeStamp - last_ms < bounce_ms) return;
    last_ms = event.timeStamp;
    act(event.timeStamp);
  });
  element.addEventListener("click", (event) => {
    // the click that ends a press, even where the press has put another button under the finger
    if (event.timeStamp - lastPress_ms < GHOST_MS) return;
    act(event.timeStamp);
  });
  element.addEventListener("contextmenu", (event) => event.preventDefault());
}

/**
 * Act on release, for buttons in lists that scroll; the moment is still the first touch.
 * @param {HTMLElement} element
 * @param {(at_mono_ms: number) => void} act
 */
export function onTap(element, act) {
  let down_ms = -Infinity;
  element.addEventListener("pointerdown", (event) => {
    down_ms = event.timeStamp;
  });
  element.addEventListener("click", (event) => {
    const pressed = down_ms > event.timeStamp - 2000;
    if (!pressed && event.timeStamp - lastPress_ms < GHOST_MS) return;
    act(pressed ? down_ms : event.timeStamp);
  });
}
