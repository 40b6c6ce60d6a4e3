// @ts-check
/** Whoever works by keyboard stays where he was when a part is built anew or a button is at work. */

const STOPS = "button, a[href], input, select, summary, [tabindex]";

/**
 * @param {HTMLElement} host
 * @param {() => void} build replaces what is in it
 */
export function keepingFocus(host, build) {
  const was = document.activeElement;
  if (!(was instanceof HTMLElement) || !host.contains(was) || was === host) return build();
  const [name, place] = [nameOf(was), stops(host).indexOf(was)];
  build();
  if (document.activeElement === was) return;
  const now = stops(host);
  const there = now.find((stop) => nameOf(stop) === name) ?? now[Math.min(place, now.length - 1)];
  if (there) return there.focus({ preventScroll: true });
  host.tabIndex = -1;
  host.focus({ preventScroll: true });
}

/**
 * Work that a button starts. It can't be started twice meanwhile, and keeps the keyboard, which
 * disabling it would take away.
 * @param {HTMLButtonElement} button
 * @param {() => Promise<unknown>} work
 */
export async function working(button, work) {
  if (isWorking(button)) return;
  button.setAttribute("aria-disabled", "true");
  try {
    await work();
  } finally {
    button.removeAttribute("aria-disabled");
  }
}

/** @param {HTMLButtonElement} button */
export const isWorking = (button) => button.getAttribute("aria-disabled") === "true";

/** @param {HTMLElement} host */
function stops(host) {
  return /** @type {HTMLElement[]} */ ([...host.querySelectorAll(STOPS)]).filter((stop) => !stop.hasAttribute("disabled"));
}

/** @param {HTMLElement} stop */
function nameOf(stop) {
  return `${stop.localName} ${stop.id || stop.getAttribute("aria-label") || stop.textContent}`;
}
