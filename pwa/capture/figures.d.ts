// Shapes of what is worked out on the phone. Types only: a phone never fetches this file.
import type { Quantity } from "../shared/measures.js";
import type { Phase } from "./evidence.js";
import type { Fix, RecordRow } from "./rows";

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
  kind: "figure" | "step";
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
}

/** The start line, across the way that the car goes. */
export interface Gate { lat: number; lon: number; heading_deg: number; half_width_m: number }

export interface Crossing {
  t_ms: number;
  /** running distance */
  along_m: number;
  /** of its place along the track, one axis */
  sd_m: number;
}

export interface Lap {
  from_ms: number;
  to_ms: number;
  length_m: number;
  sd_m: number;
  /** driven wholly on the course: neither a detour nor a gap */
  plain: boolean;
}

export interface MeanLap { length_m: number; sd_m: number; laps: number }

/** A lap as the page shows it, with half of its 95 % interval. */
export interface LapLine { length_m: number; half_m: number; plain: boolean }

/** What is known of the laps, by the phone or by the measuring core. */
export interface Figures {
  laps: LapLine[];
  mean: { length_m: number; half_m: number; laps: number; agrees?: boolean } | null;
  /** the car's trip meter over ours */
  trip: Quantity | null;
  /** the phone's own */
  provisional: boolean;
}

/** What a verdict is made of. */
export interface Checked {
  /** mean of the laps */
  length_m: number;
  /** half of its 95 % interval */
  half_m: number;
  laps: number;
  surveyed_m: number | null;
  surveyed_sd_m: number | null;
  /** what the server makes of it */
  agrees?: boolean;
}

export interface Verdict { tone: "good" | "doubt" | "bad"; verdict: string; advice: string }

/** What a lap check found, kept with the course in the set-up. */
export interface CheckedLap {
  length_m: number;
  sd_m: number;
  laps: number;
  /** RFC 3339 */
  checked_at: string;
  session_id: string;
  /** from the phone alone, not from the measuring core */
  provisional?: boolean;
}

/** A course as in a session's set-up. */
export interface Course {
  label: string;
  surveyed_lap_m?: number | null;
  surveyed_lap_sd_m?: number | null;
  gate?: Gate | null;
  checked_lap?: CheckedLap | null;
}

/** By label. */
export type Courses = Record<string, Course>;

/** A lap check while it is driven. */
export interface LapCheck {
  add(fix: Fix): void;
  /** The start line lies across the way where the car is now; null: standing still has no direction. */
  setLine(): Gate | null;
  hasLine(): boolean;
  crossed(): number;
  running_m(): number;
  figures(): Figures;
  /** Whether the server can tell more than is shown. */
  wantsServer(): boolean;
  /** The server's result document. */
  take(result: any): void;
  /** This phone may add to the session, not read what it means. */
  leaveToDesk(): void;
  /** Where the figures come from, in words. */
  source(): string;
  verdict(): Verdict | null;
  tripWords(): string;
}
