// What the pages of a recording are given by the wiring. Types only: a phone never fetches this file.
import type { Units } from "../shared/measures.js";
import type { Clock } from "./clock.js";
import type { SignalName } from "./feedback.js";
import type { LapCheck } from "./figures";
import type { Cells } from "./phone-state.js";
import type { PrefsBook } from "./prefs.js";
import type { Recorder } from "./recorder.js";
import type { Detail, ReadingInput, Stamp } from "./recording";
import type { Run } from "./run.js";
import type { Request } from "./sending.js";
import type { Fix, NewPhoto, PhotoRow, RecordRow } from "./rows";
import type { Store } from "./store.js";

type Signal = (name: SignalName) => void;

/** What both pages of a recording need. */
interface LiveParts {
  signal: Signal;
  units: () => Units;
  fix: () => Fix | null;
  cells: () => Cells;
  openMenu: () => void;
  openStatus: () => void;
}

export interface DriveParts extends LiveParts {
  recorder: Recorder;
  clock: Clock;
  prefs: PrefsBook;
  /** the plan's speed band */
  bandKmh: () => readonly [number, number] | null;
  /** of the pack */
  usableKwh: () => number | null;
  /** running distance */
  alongM: () => number;
  openPad: (at: Stamp) => void;
  openCamera: () => void;
  openLog: () => void;
}

export interface LapCheckParts extends LiveParts {
  check: LapCheck;
  course: string;
  surveyed_m: number | null;
  /** false: the car stands */
  setLine: (at_mono_ms: number) => Promise<boolean>;
  openPad: (at_mono_ms: number) => void;
  keep: () => Promise<void>;
}

export interface LapRunParts {
  store: Store;
  run: Run;
  /** recorded earlier */
  fixes: Fix[];
  clock: Clock;
  request: Request;
  /** whether the server has everything */
  isSynced: () => boolean;
  /** sends what is unsent */
  hurry: () => void;
  /** after something new came in */
  drawn: () => void;
  page: Omit<LapCheckParts, "check" | "course" | "surveyed_m" | "setLine" | "keep">;
}

/** The one place of advice: `band` covers the running figures too, `note` the scale alone. */
export interface Words { kind: "band" | "note"; lead: string; main: string; rest: string }

export interface PadParts {
  /** the moment of the touch that opened it */
  at: Stamp;
  /** what can be noted, likeliest first */
  quantities: readonly string[];
  prefs: PrefsBook;
  distanceUnit: "km" | "mi";
  signal: Signal;
  /** resolves when it is durable */
  store: (input: ReadingInput, at: Stamp) => Promise<void>;
}

export interface Picture { bytes: ArrayBuffer; media_type: string }

export interface CameraParts {
  devices: MediaDevices | undefined;
  signal: Signal;
  gps: { covered: (what: string) => void; uncovered: () => void };
  keep: (picture: Promise<Picture>, at_mono_ms: number) => void;
}

export interface PhotoKeeperParts {
  add: (photo: NewPhoto) => Promise<unknown>;
  session_id: string;
  device: string;
  standing: () => RecordRow[];
}

/** How one car shows a quantity. */
export interface DisplayChoice { unit: string; resolution: number }

export interface Prefs {
  theme: "day" | "night" | "contrast";
  hand: "left" | "right";
  sound: boolean;
  /** by quantity */
  displays: Record<string, DisplayChoice>;
  /** last value by event kind */
  steppers: Record<string, number>;
}

export interface SettingsParts {
  prefs: PrefsBook;
  distanceUnit: "km" | "mi";
  setDistanceUnit: (unit: "km" | "mi") => void;
  /** after a change of look or hand */
  apply: () => void;
}

/** A key of the drive page. */
export interface Tap {
  /** few words, large */
  label: string;
  /** what it means, small */
  hint: string;
  tone: "plain" | "warn" | "zero" | "limit" | "off" | "charge";
  /** what is asked after the moment is kept */
  detail?: "warning" | "speed" | "percent";
}

/** What a tap asks for once its moment is kept. */
export interface Question {
  /** the moment of the tap */
  at: Stamp;
  signal: Signal;
  /** with the answer; also called, without one, when the sheet is closed */
  finish: (detail?: Detail) => void;
}

export interface ValueQuestion extends Question {
  detail: "speed" | "percent";
  unit: string;
  start: number;
  remember: (value: number) => void;
}

export interface LogParts {
  recorder: Recorder;
  /** as the outbox left them */
  stored: () => Promise<RecordRow[]>;
  pictures: () => Promise<PhotoRow[]>;
  confirm: (row: RecordRow) => void;
  /** it was taken back */
  withdrawn: (row: RecordRow) => void;
  fail: (error: unknown) => void;
}
