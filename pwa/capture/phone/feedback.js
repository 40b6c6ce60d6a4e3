// @ts-check
/** What a tap feels and sounds like. Colour and text are the view's; these come on top. */

/** @typedef {"taken" | "stored" | "failed" | "advice"} SignalName */

/** @type {Record<SignalName, { buzz_ms: number[], hertz: number, s: number }>} */
const SIGNALS = {
  taken: { buzz_ms: [25], hertz: 880, s: 0.05 },
  stored: { buzz_ms: [], hertz: 1320, s: 0.08 },
  advice: { buzz_ms: [60], hertz: 523, s: 0.25 },
  failed: { buzz_ms: [180, 80, 180], hertz: 220, s: 0.6 },
};

/**
 * @param {{ navigator: Navigator, Audio: typeof AudioContext | undefined, soundOn: () => boolean }} parts
 */
export function createFeedback({ navigator, Audio, soundOn }) {
  /** @type {AudioContext | null} made at the first touch: browsers allow no sound before one */
  let audio = null;

  /** @param {SignalName} name */
  return function signal(name) {
    const { buzz_ms, hertz, s } = SIGNALS[name];
    if (buzz_ms.length) navigator.vibrate?.(buzz_ms);
    if (!Audio || !soundOn()) return;
    audio ??= new Audio();
    void audio.resume();
    const tone = audio.createOscillator();
    const gain = audio.createGain();
    tone.frequency.value = hertz;
    gain.gain.setValueAtTime(0.2, audio.currentTime);
    gain.gain.exponentialRampToValueAtTime(0.001, audio.currentTime + s);
    tone.connect(gain).connect(audio.destination);
    tone.start();
    tone.stop(audio.currentTime + s);
  };
}
