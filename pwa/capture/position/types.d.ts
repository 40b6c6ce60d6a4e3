// What the position watch is given and tells. Types only: a phone never fetches this file.
import type { Stamp } from "../phone/types";
import type { Fix } from "../storage/rows";

export interface GpsState {
  quality: "off" | "waiting" | "good" | "poor" | "lost" | "denied";
  /** the latest */
  fix: Fix | null;
  /** fixes pile up in memory because the storage takes none */
  unstored: boolean;
  /** why there is none at the moment, as far as it is known */
  cause: string;
}

export interface Gap { from_ms: number; to_ms: number; cause: string }

export interface GpsParts {
  geolocation: Geolocation | undefined;
  stamp: () => Stamp;
  /** stores a small batch */
  keep: (fixes: Fix[]) => Promise<void>;
  onGap: (gap: Gap) => void;
  onFix: (fix: Fix) => void;
  onChange: () => void;
  /** keeps the cause should the page end now; "" none */
  remember?: (cause: string) => void;
  later: (run: () => void, ms: number) => number;
}

/** The position watch of a recording. */
export interface Gps {
  /**
   * Watch, and from now on record.
   * @param lastStored the last one of this session, when it goes on after a reload
   * @param left why there was none when the page before this one ended
   */
  record(lastStored: Fix | null, left?: string): void;
  /** On after `stop`, as if it had not been called. */
  resume(): void;
  /** Stop watching; a gap that is open is told. Fixes may stay in memory: see `pending`. */
  stop(): Promise<void>;
  /** Fixes that are only in this page's memory: the storage has not taken them (yet). */
  pending(): readonly Fix[];
  /**
   * Something of ours is about to hide the page, such as the camera: a gap from now until
   * `uncovered` has this cause. Safe to call when nothing gets hidden after all.
   * @param what for example "the camera hid the page"
   */
  covered(what: string): void;
  /** It is gone again; the cause holds until the next fix. */
  uncovered(): void;
  /** The page is out of sight now. */
  hidden(): void;
  /** The page is in sight again. */
  shown(): void;
  /** Ask for the position anew: it may be allowed by now. */
  again(): void;
  /** Store what waits. */
  flush(): Promise<void>;
  state(): GpsState;
}
