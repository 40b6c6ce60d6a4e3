// What the drive page and its sheets are given by the wiring. Types only: a phone never fetches this file.
import type { Protocol } from "../../shared/rules.js";
import type { KnownWarning } from "../../shared/warnings.js";
import type { PrefsBook } from "../page/prefs.js";
import type { Clock } from "../phone/clock.js";
import type { Signal, Stamp } from "../phone/types";
import type { Phase } from "../records/evidence.js";
import type { Detail, ReadingInput, Recorder } from "../records/types";
import type { LiveParts } from "../run/types";
import type { RecordRow } from "../storage/rows";

/** What the car does now, for the speed band. */
export interface Pace {
  /** null: not known */
  speed_mps: number | null;
  now_ms: number;
  /** null: no band was planned */
  band_kmh: readonly [number, number] | null;
  /** false where the car is held back or already floored */
  mayGoFaster: boolean;
}

/** A figure or a step of the display that is worth noting now. */
export interface Worth {
  kind: "figure" | "step" | "charge";
  /** the evidence it follows from; another key is another piece of advice */
  key: string;
  /** what to note */
  quantity: string;
  /** of a step: the % to watch for */
  value: number | null;
  /** 95 %, half-width; null where nothing was noted at all */
  doubt_kwh: number | null;
  /** driven since the evidence */
  since_m: number;
  /** of a step: how far apart steps come */
  due_m: number | null;
  /** what grows until it is noted; a refusal holds until it has grown by half */
  grown: number;
  /** of a charge: where it was, and how long ago */
  state?: ChargeState;
  age_ms: number;
}

/** Where the charging power is, as far as its readings tell. */
export type ChargeState = "none" | "no_power" | "unknown" | "trickling" | "ramping" | "steady" | "falling" | "ended";

/** A recharge as it stands, with the last record of each figure. */
export interface Charge {
  /** when it was plugged in */
  begun_ms: number;
  state: ChargeState;
  power: RecordRow | null;
  soc: RecordRow | null;
  energy: RecordRow | null;
  /** how long the last power tells the state */
  lasts_ms: number;
  /** the next planned % of the display */
  next_pct: number | null;
}

/** Where a run stands. */
export interface Standing {
  /** standing ones, in the order taken */
  rows: RecordRow[];
  phase: Phase;
  /** running distance */
  along_m: number;
  now_ms: number;
  /** of the pack */
  usable_kwh: number | null;
  /** planned % at the start */
  start_pct: number | null;
}

export interface DriveParts extends LiveParts {
  recorder: Recorder;
  /** what stands of all that the crew recorded, this phone and the others */
  standing: () => RecordRow[];
  /** who recorded it; empty: this phone */
  who: (row: RecordRow) => string;
  clock: Clock;
  prefs: PrefsBook;
  /** the plan's; it may change during the run */
  protocol: () => { speed_band_kmh?: readonly [number, number] | null, start_soc_pct?: number | null } & Protocol;
  /** of the pack */
  usableKwh: () => number | null;
  /** running distance */
  alongM: () => number;
  /** where it was then; null where that isn't known (yet) */
  alongAt: (t_ms: number) => number | null;
  openPad: (at: Stamp) => void;
  /** of a tap: what was photographed says what it was */
  openCamera: (of?: RecordRow) => void;
  /** a spoken note begins, or ends */
  touchVoice: () => void;
  /** until it ends by itself; null: nothing listens */
  voiceLeft_ms: () => number | null;
  openLog: () => void;
  /** what cars said before, and how it was classed, the latest first */
  warnings: () => readonly KnownWarning[];
}

/** The one place of advice: `band` covers the running figures too, `note` the scale alone. */
export interface Words { kind: "band" | "note"; lead: string; main: string; rest: string }

export interface PadParts {
  /** the moment of the touch that opened it */
  at: Stamp;
  /** now, or the moment of a touch */
  stamp: (at_mono_ms?: number) => Stamp;
  /** what is usually read in one pass, in that order */
  row: readonly string[];
  /** all that can be noted, likeliest first */
  quantities: readonly string[];
  prefs: PrefsBook;
  distanceUnit: "km" | "mi";
  signal: Signal;
  /** the display's last figure of it; null where none stands or it was said roughly */
  last: (quantity: string) => { value: number; unit: string } | null;
  /** resolves when it is durable */
  store: (input: ReadingInput, at: Stamp) => Promise<void>;
  /** a photo instead of a figure */
  openCamera?: () => void;
}

export interface FigureParts extends Pick<PadParts, "prefs" | "distanceUnit" | "signal" | "openCamera"> {
  quantity: string;
  /** on what was stored before */
  message: string;
  last: { value: number; unit: string } | null;
  /** A digit was touched. @returns what that made of the moment; empty: nothing */
  stroke: (at_mono_ms: number) => string;
  /** the display is looked at now */
  renew: (at_mono_ms: number) => void;
  /** resolves when it is durable; `words` say the figure */
  store: (input: ReadingInput, words: string) => Promise<void>;
}

/** What a tap asks for once its moment is kept. */
export interface Question {
  /** the moment of the tap */
  at: Stamp;
  /** of the event */
  kind: string;
  signal: Signal;
  /** with the answer; also called, without one, when the sheet is closed */
  finish: (detail?: Detail) => void;
}

export interface ChoiceQuestion extends Question {
  /** what the car said before, the latest first */
  saidBefore: readonly KnownWarning[];
  /** where a photo may say it instead */
  takePhoto?: () => void;
}

/** What to do with a zero that was tapped before. */
export interface ZeroQuestion extends Question {
  /** the tap that counts */
  first: RecordRow;
  /** whose it is; empty: this phone's */
  by: string;
}

export interface ValueQuestion extends Question {
  unit: string;
  start: number;
  remember: (value: number) => void;
}
