// What the phone's pages are given by the wiring. Types only: a phone never fetches this file.
import type { Units } from "../shared/measures.js";
import type { Clock, Stamp } from "./clock.js";
import type { SignalName } from "./feedback.js";
import type { Courses } from "./figures.js";
import type { LapCheck } from "./lap-check.js";
import type { Cells } from "./phone-state.js";
import type { PrefsBook } from "./prefs.js";
import type { Detail, ReadingInput, Recorder } from "./recorder.js";
import type { Run } from "./run.js";
import type { Request } from "./sending.js";
import type { Purpose } from "./setup.js";
import type { NewPhoto } from "./store-photos.js";
import type { Fix, RecordRow, Store } from "./store.js";
import type { Item } from "./view-checklist.js";

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

export interface SetupValues {
  title: string;
  vehicle: string;
  usable_kwh: number | null;
  course: string;
  surveyed_lap_m: number | null;
  surveyed_lap_sd_m: number | null;
  use_checked_lap: boolean;
  start_soc_pct: number | null;
  band_low_kmh: number | null;
  band_high_kmh: number | null;
  ambient_c: number | null;
  climate: string;
  drive_mode: string;
}

export interface SetupField {
  name: Exclude<keyof SetupValues, "use_checked_lap">;
  label: string;
  unit?: string;
  /** for numbers: least and most */
  range?: [number, number];
  required?: boolean;
  /** not asked for a lap check */
  runOnly?: boolean;
}

export interface SetupParts {
  heading: string;
  /** label of the key that goes on */
  next: string;
  purpose: Purpose;
  /** this phone knows */
  courses: Courses;
  save: (values: SetupValues) => Promise<void>;
  back: () => void;
}

export interface ChecklistParts {
  title: string;
  /** car, course and plan in one line */
  about: string;
  /** asks for the cautions alone */
  lapCheck: boolean;
  /** items that stand ticked */
  ticked: ReadonlySet<string>;
  /** resolves when durable */
  tick: (item: Item, ticked: boolean) => Promise<unknown>;
  start: () => Promise<void>;
  edit: () => void;
  back: () => void;
}

export interface ChecklistLogParts {
  store: Store;
  session: string;
  device: string;
  newId: () => string;
  stamp: () => Stamp;
  here: () => GeolocationPosition | null;
  onChange: () => void;
}

export interface SessionCard {
  id: string;
  title: string;
  about: string;
  /** words on what is unsent */
  state: string;
  tone: "good" | "doubt" | "bad";
}

export interface SessionsParts {
  onPhone: SessionCard[];
  create: () => void;
  checkLap: () => void;
  open: (id: string) => void;
  exportFile: (id: string) => void;
  openMenu: () => void;
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
  confirm: (row: RecordRow) => void;
  fail: (error: unknown) => void;
}
