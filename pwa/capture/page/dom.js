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

/**
 * A touch belongs to what it came down on. Where a press has taken that away (a sheet that closes,
 * a page that is left), the click that ends the touch lands on whatever lies beneath: nobody meant
 * that, so nothing hears of it, however long the finger stayed.
 * @param {Window} window
 */
export function guardTouches(window) {
  /** @type {Node | null} */
  let touched = null;
  let lifted_ms = Infinity;
  window.addEventListener("pointerdown", ({ target }) => {
    touched = target instanceof Node ? target : null;
    lifted_ms = Infinity;
  }, { capture: true });
  for (const end of /** @type {const} */ (["pointerup", "pointercancel"])) {
    window.addEventListener(end, ({ timeStamp }) => {
      lifted_ms = timeStamp;
    }, { capture: true });
  }
  window.addEventListener("click", (event) => {
    const isOrphan = touched !== null && !touched.isConnected && event.timeStamp - lifted_ms < GHOST_MS;
    touched = null;
    if (!isOrphan) return;
    event.stopImmediatePropagation();
    event.preventDefault();
  }, { capture: true });
}

const GHOST_MS = 800;
const LONGEST_TOUCH_MS = 2000;
let lastPress_ms = -Infinity;

/**
 * Act the moment the finger comes down; on release where the page around it has to scroll, as
 * with large text: there a finger that comes down may mean to scroll. A keyboard or a screen
 * reader comes by click.
 * @param {HTMLElement} element
 * @param {(at_mono_ms: number) => void} act given the moment of the touch, performance.now() time
 * @param {number} [bounce_ms] a second touch within this of the first is the shaking car
 */
export function onPress(element, act, bounce_ms = 0) {
  let [last_ms, down_ms] = [-Infinity, -Infinity];
  const mayScroll = () => element.closest("[data-scrolls]") !== null;
  /** @param {number} at_ms */
  const once = (at_ms) => {
    if (at_ms - last_ms < bounce_ms) return;
    last_ms = at_ms;
    act(at_ms);
  };
  element.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    down_ms = event.timeStamp;
    if (mayScroll()) return;
    lastPress_ms = event.timeStamp;
    once(event.timeStamp);
  });
  element.addEventListener("click", ({ timeStamp }) => {
    const began_ms = down_ms;
    down_ms = -Infinity; // a click that comes without a press of its own is somebody else's
    if (mayScroll() && began_ms > timeStamp - LONGEST_TOUCH_MS) return once(began_ms);
    // the click that ends a press, even where the press has put another button under the finger
    if (timeStamp - lastPress_ms < GHOST_MS) return;
    act(timeStamp);
  });
  element.addEventListener("contextmenu", (event) => event.preventDefault());
}

const HARDLY_PX = 8;

/**
 * Marks an area that doesn't fit its height, so that it scrolls, its buttons wait for release, and
 * a hint says that there is more below.
 * @param {HTMLElement} area
 */
export function watchFit(area) {
  const mark = () => {
    const over_px = area.scrollHeight - area.clientHeight;
    area.toggleAttribute("data-scrolls", over_px > 1);
    area.toggleAttribute("data-more", over_px - area.scrollTop > HARDLY_PX);
  };
  area.addEventListener("scroll", mark, { passive: true });
  const watch = new ResizeObserver(mark);
  for (const part of [area, ...area.children]) watch.observe(part);
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
    const began_ms = down_ms;
    down_ms = -Infinity; // as above
    const pressed = began_ms > event.timeStamp - LONGEST_TOUCH_MS;
    if (!pressed && event.timeStamp - lastPress_ms < GHOST_MS) return;
    act(pressed ? began_ms : event.timeStamp);
  });
}

/**
 * The keyboard and the screen reader go on at the head of what has just come up.
 * @param {HTMLElement} view
 */
export function focusHead(view) {
  const head = view.querySelector("h1") ?? view;
  head.tabIndex = -1;
  head.focus({ preventScroll: true });
}
