// What the phone's own abilities are given and hand on. Types only: a phone never fetches this file.
import type { SignalName } from "./feedback.js";

/** One moment by every clock the phone has. */
export interface Stamp {
  /** whole milliseconds since the Unix epoch, as this device believes */
  t_ms: number;
  /** wall clock */
  wall_ms: number;
  /** since this page was loaded */
  mono_ms: number;
  /** id of this page load */
  page: string;
}

/** A picture or a sound. */
export interface Picture { bytes: ArrayBuffer; media_type: string }

export interface MicrophoneParts {
  devices: MediaDevices | undefined;
  Recorder: typeof MediaRecorder | undefined;
  monoMs: () => number;
  /** it begins or ends to listen */
  onChange: () => void;
}

export interface CameraParts {
  devices: MediaDevices | undefined;
  signal: Signal;
  gps: { covered: (what: string) => void; uncovered: () => void };
  keep: (picture: Promise<Picture>, at_mono_ms: number) => void;
}

export type Signal = (name: SignalName) => void;
