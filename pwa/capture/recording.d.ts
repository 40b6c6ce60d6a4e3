// What records a run: its parts and what they hand on. Types only: a phone never fetches this file.
import type { RequestOptions } from "../shared/api.js";
import type { Clock } from "./clock.js";
import type { WakeState } from "./keep-awake.js";
import type { Persistence } from "./persistence.js";
import type { ChunkRow, Counts, Fix, RecordRow, SessionRow } from "./rows";
import type { Store } from "./store.js";

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
  /** Store what waits. */
  flush(): Promise<void>;
  state(): GpsState;
}

export interface Detail { text?: string | null; value?: number | null; unit?: string | null }

export interface ReadingInput { quantity: string; value: number; unit: string; resolution: number }

export interface RecorderParts {
  store: Store;
  session: string;
  device: string;
  /** what is already stored */
  rows: RecordRow[];
  newId: () => string;
  /** now */
  stamp: () => Stamp;
  /** running distance */
  alongM: () => number | null;
  /** after every stored record */
  onChange: () => void;
}

/** Turns taps into records of one session; a promise resolves when they are durable. */
export interface Recorder {
  /** Every stored record, in the order taken; read only. */
  rows(): RecordRow[];
  /** What still stands of it. */
  standing(): RecordRow[];
  /** Taken but not durable: the screen must say so. */
  failed(): number;
  /** Those: they belong into a file saved now. */
  unstored(): readonly RecordRow[];
  /** Take in what another tab of this phone has recorded meanwhile. */
  refresh(): Promise<void>;
  /** Try again what could not be stored, for example when the storage was full. */
  retry(): Promise<void>;
  tap(kind: string, at: Stamp, detail?: Detail): Promise<RecordRow>;
  /** Keep a moment whose detail is about to be chosen; it is sent once finished. */
  draft(kind: string, at: Stamp): { made: RecordRow; stored: Promise<RecordRow> };
  /** What holds the detail, once it is durable; null when it is kept in memory and tried again. */
  finish(made: RecordRow, detail?: Detail): Promise<RecordRow | null>;
  /** Drafts left by a page that was closed: the moment counts, its detail can follow. */
  finishLeftovers(): Promise<void>;
  reading(input: ReadingInput, at: Stamp): Promise<RecordRow>;
  /** Say more about an event, or say it right. */
  correct(made: RecordRow, detail: Detail): Promise<RecordRow>;
  withdraw(made: RecordRow): Promise<RecordRow>;
  /**
   * The phone's own log: a gap in the fixes, a step of the clock. What the storage does not take
   * is kept in memory and tried again, as a tap is; null then.
   */
  log(text: string, log: string, facts: Record<string, unknown>): Promise<RecordRow | null>;
}

export interface RunParts {
  store: Store;
  row: SessionRow;
  device: string;
  clock: Clock;
  newId: () => string;
  geolocation: Geolocation | undefined;
  later: (run: () => void, ms: number) => number;
  /** after every stored record */
  onRecord: () => void;
  /** after every stored piece of track */
  onTrack: () => void;
  /** with every recorded fix */
  onPlace?: (fix: Fix) => void;
  /** after every fix or change of the GPS state */
  onFix: () => void;
  /** a stretch without fixes, in words, once it is over */
  onGap?: (text: string) => void;
}

/** All that the strip at the top stands for. */
export interface PhoneState {
  gps: GpsState;
  counts: Counts;
  kept: Persistence;
  outbox: Readonly<OutboxState>;
  wake: WakeState;
  now_ms: number;
}

export type Request = (path: string, options?: RequestOptions) => Promise<any>;

/** What the outboxes are given. */
export interface SendingParts {
  store: Store;
  request: Request;
  device: string;
  stamp: () => Stamp;
  monoMs: () => number;
  newId: () => string;
  /** in [0, 1) */
  random: () => number;
  /** runs the work unless another tab is at it */
  exclusive: <T>(name: string, work: () => Promise<T>) => Promise<T | undefined>;
  /** after each answer */
  onChange: () => void;
}

export interface OutboxState {
  /** why the last try failed; empty after a success */
  problem: string;
  /** the server doesn't let this phone add to the session (any more) */
  shut: boolean;
  /** when everything was last known to be on the server */
  synced_ms: number | null;
}

export interface Entry { columns: Record<string, any>; chunks: ChunkRow[] }

/** What the server has of this device in all. */
export interface Holds {
  events: number;
  readings: number;
  clock_checks: number;
  fixes: number;
  photos: number;
  revision: number;
}

/** What an answer settles. */
export interface Settled {
  /** ids of records */
  held: string[];
  /** records */
  refused: { id: string; problem: string }[];
  chunks: { first: number; change: Partial<ChunkRow> }[];
  /** how many of the fixes are held */
  fixes: number;
  holds: Holds;
}
