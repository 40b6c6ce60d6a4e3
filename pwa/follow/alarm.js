// @ts-check
/** What those behind must know at once: in words, in colour, and as a sound where it is wanted. */
import { eventName } from "../shared/vocabulary.js";

const TONES = [[0, 660], [0.35, 440], [0.7, 660], [1.05, 440]];

/** @param {{ Audio: typeof AudioContext | undefined, storage: Pick<Storage, "getItem" | "setItem"> }} parts */
export function createSound({ Audio, storage }) {
  /** @type {AudioContext | null} browsers allow it only after a touch */
  let audio = null;
  let on = false;

  function play() {
    if (!on || !audio) return;
    for (const [at_s = 0, hertz = 440] of TONES) {
      const tone = audio.createOscillator();
      const gain = audio.createGain();
      const from = audio.currentTime + at_s;
      tone.type = "square";
      tone.frequency.value = hertz;
      gain.gain.setValueAtTime(0.3, from);
      gain.gain.exponentialRampToValueAtTime(0.001, from + 0.32);
      tone.connect(gain).connect(audio.destination);
      tone.start(from);
      tone.stop(from + 0.33);
    }
  }

  return {
    play,
    isOn: () => on,
    /** Switched by a touch: that is when a browser lets us make sounds; it is heard at once. */
    toggle() {
      on = !on;
      if (on && Audio) {
        audio ??= new Audio();
        void audio.resume();
        play();
      }
      try {
        storage.setItem("ebbline.follow.sound", on ? "wanted" : "");
      } catch {
        // the switch works all the same
      }
      return on;
    },
    /** Whether it was on before this page was loaded, so that it can be offered. */
    wanted() {
      try {
        return storage.getItem("ebbline.follow.sound") === "wanted";
      } catch {
        return false;
      }
    },
  };
}

/** @param {HTMLElement} element @param {() => void} sound */
export function createAlarm(element, sound) {
  /** @type {Set<string>} */
  const known = new Set();
  const what = document.createElement("p");
  const since = document.createElement("p");
  const earlier = document.createElement("p");
  what.className = "what";
  since.className = "since";
  earlier.className = "earlier";

  return {
    /**
     * @param {import("./poll.js").Live["alerts"]} alerts
     * @returns {string} what it says, empty when there is nothing
     */
    show(alerts) {
      const last = alerts.at(-1);
      const news = alerts.some(({ event_id }) => !known.has(event_id));
      for (const { event_id } of alerts) known.add(event_id);
      element.hidden = !last;
      if (!last) {
        element.replaceChildren();
        return "";
      }
      if (news || !element.childElementCount) {
        what.textContent = eventName(last.kind);
        earlier.textContent = alerts.slice(0, -1).map(({ kind }) => `Before: ${eventName(kind)}`).join(", ");
        element.replaceChildren(what, since, earlier);
      }
      if (news) sound();
      return what.textContent ?? "";
    },
    /** @param {string} words how long ago, apart from the alert itself so that it isn't read out each second */
    age(words) {
      since.setAttribute("aria-hidden", "true");
      if (since.textContent !== words) since.textContent = words;
    },
  };
}
