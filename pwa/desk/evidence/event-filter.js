// @ts-check
/** Which events are shown, chosen in more than one place and the same in all. */
import { el } from "../page/dom.js";
import { EVENT_GROUPS } from "../words/event-groups.js";

/**
 * @param {(group: string) => void} onChoose
 * @returns {(label: string) => HTMLSelectElement} makes one more place to choose in
 */
export function createEventFilter(onChoose) {
  /** @type {HTMLSelectElement[]} */
  const places = [];
  return (label) => {
    const place = el("select", {
      class: "quiet-select", "aria-label": label,
      onchange: () => {
        for (const other of places) other.value = place.value;
        onChoose(place.value);
      },
    }, ...EVENT_GROUPS.map(([name, words]) => el("option", { value: name }, words)));
    places.push(place);
    return place;
  };
}
