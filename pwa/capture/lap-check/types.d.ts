// Shapes of what a lap check works out, and what its page is given. Types only: a phone never fetches this file.
import type { Request } from "../../shared/api.js";
import type { Quantity } from "../../shared/measures.js";
import type { Clock } from "../phone/clock.js";
import type { Run } from "../run/run.js";
import type { LiveParts } from "../run/types";
import type { Gate } from "../setup/types";
import type { Store } from "../storage/keeping";
import type { Fix } from "../storage/rows";

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
  why: LeftOut;
}

/** Why a lap is no plain one; empty: it is. */
export type LeftOut = "" | "gap" | "too long" | "too short";

export interface MeanLap { length_m: number; sd_m: number; laps: number }

/** A lap as the page shows it, with half of its 95 % interval. */
export interface LapLine { length_m: number; half_m: number; plain: boolean; why: LeftOut }

/** What is known of the laps, by the phone or by the measuring core. */
export interface Figures {
  laps: LapLine[];
  mean: { length_m: number; half_m: number; laps: number; agrees?: boolean } | null;
  /** the car's trip meter over ours */
  trip: Quantity | null;
  /** the phone's own */
  provisional: boolean;
}

/** So many laps, and the trip meter's ratio, by the phone's count. */
export interface Known { laps: number; /** figures of the trip meter, once they can be compared */ trip: number }

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

export interface Verdict { tone: "good" | "fair" | "doubt" | "bad"; verdict: string; advice: string }

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
  wantsServer(known: Known): boolean;
  /** What of this phone's figures the server must know when nothing is unsent. */
  known(now_ms: number): Known;
  /** The server's result document, and what was known to it. */
  take(result: any, known: Known): void;
  /** This phone may add to the session, not read what it means. */
  leaveToDesk(): void;
  /** Where the figures come from, in words. */
  source(): string;
  verdict(): Verdict | null;
  tripWords(): string;
}

export interface LapCheckParts extends LiveParts {
  check: LapCheck;
  course: string;
  surveyed_m: number | null;
  /** false: the car stands */
  setLine: (at_mono_ms: number) => Promise<boolean>;
  openPad: (at_mono_ms: number) => void;
  keep: () => Promise<void>;
  /** the run, in the same recording */
  startRun: () => Promise<void>;
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
