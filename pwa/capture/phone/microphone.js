// @ts-check
/**
 * What the car or the crew says, up to twenty seconds of it. The browser is asked for the microphone
 * when a note begins, and has it back when it ends: between notes nothing listens.
 */

/** @typedef {import("./types").Picture} Kept */

export const LONGEST_MS = 20000;
/** What browsers record: Chromium and Firefox the first, WebKit the second. */
const TYPES = ["audio/webm;codecs=opus", "audio/mp4"];
const BITS_PER_SECOND = 32000; // speech, with Opus or AAC

export const NO_RECORDER = "This browser has no sound recorder.";
export const REFUSED = "The microphone is not allowed for this page. Allow it in the browser's settings.";

/** @param {import("./types").MicrophoneParts} parts */
export function createMicrophone({ devices, Recorder, monoMs, onChange }) {
  const type = TYPES.find((one) => Recorder?.isTypeSupported(one));
  let opening = false;
  /** @type {MediaRecorder | null} */
  let recorder = null;
  let ends_ms = 0;

  /** @returns {Promise<MediaRecorder>} */
  async function open() {
    if (!devices || !Recorder || !type) throw new Error(NO_RECORDER);
    /** @type {MediaStream | null} */
    let stream = null;
    try {
      stream = await devices.getUserMedia({ audio: true });
      return new Recorder(stream, { mimeType: type, audioBitsPerSecond: BITS_PER_SECOND });
    } catch (error) {
      if (stream) giveBack(stream);
      const refused = error instanceof DOMException && error.name === "NotAllowedError";
      throw new Error(refused ? REFUSED : "The microphone could not be opened.");
    }
  }

  return {
    /** Whether it listens, or is about to. */
    isOn: () => opening || recorder !== null,
    /** Milliseconds until it ends by itself; null: it doesn't listen. */
    left_ms: () => (recorder ? Math.max(0, ends_ms - monoMs()) : null),
    /**
     * @param {(note: Promise<Kept>) => void} begun it listens; the note is there once it has ended
     * @returns {Promise<void>}
     * @throws {Error} why it doesn't listen, in words
     */
    async record(begun) {
      if (opening || recorder) return;
      opening = true;
      try {
        const on = recorder = await open();
        /** @type {Blob[]} */
        const parts = [];
        on.addEventListener("dataavailable", ({ data }) => parts.push(data));
        begun(new Promise((resolve, reject) => {
          const timer = setTimeout(() => on.stop(), LONGEST_MS);
          on.addEventListener("stop", () => {
            clearTimeout(timer);
            recorder = null;
            giveBack(on.stream);
            onChange();
            new Blob(parts).arrayBuffer()
              .then((bytes) => resolve({ bytes, media_type: (type ?? "").replace(/;.*/, "") }), reject);
          });
        }));
        ends_ms = monoMs() + LONGEST_MS;
        on.start();
      } finally {
        opening = false;
        onChange();
      }
    },
    /** It ends now, and what was heard is kept. */
    stop() {
      if (recorder?.state === "recording") recorder.stop();
    },
  };
}

/** @param {MediaStream} stream */
function giveBack(stream) {
  for (const track of stream.getTracks()) track.stop();
}

/** @typedef {ReturnType<typeof createMicrophone>} Microphone */
