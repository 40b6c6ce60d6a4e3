// What records are made of and what writes them down. Types only: a phone never fetches this file.
import type { KnownWarning } from "../../shared/warnings.js";
import type { Stamp } from "../phone/types";
import type { Store } from "../storage/keeping";
import type { PhotoRow, RecordRow } from "../storage/rows";

/** What is said of a tap once its moment is kept. */
export interface Detail {
  text?: string | null;
  value?: number | null;
  unit?: string | null;
  /** of a warning */
  class?: string | null;
  /** car or crew, of what either may do */
  done_by?: string | null;
  /** it is another kind after all */
  kind?: string;
  /** id of the tap that it replaces */
  corrects?: string;
}

/** `about`: said roughly, off by up to one unit of its last digit, which is `resolution` then. */
export interface ReadingInput { quantity: string; value: number; unit: string; resolution: number; about?: boolean }

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
  /** Take back what was said last: of a correction that alone, so that what it replaced stands again. */
  undo(made: RecordRow): Promise<RecordRow>;
  /**
   * The phone's own log: a gap in the fixes, a step of the clock. What the storage does not take
   * is kept in memory and tried again, as a tap is; null then.
   */
  log(text: string, log: string, facts: Record<string, unknown>): Promise<RecordRow | null>;
}

export interface LogParts {
  recorder: Recorder;
  /** this phone's records with those of the others */
  beside: (own: RecordRow[]) => RecordRow[];
  /** who recorded it; empty: this phone */
  who: (row: RecordRow) => string;
  /** as the outbox left them */
  stored: () => Promise<RecordRow[]>;
  pictures: () => Promise<PhotoRow[]>;
  /** said before, and how they were classed, the latest first */
  warnings: readonly KnownWarning[];
  remember: (warning: KnownWarning) => Promise<void>;
  confirm: (row: RecordRow) => void;
  /** it was taken back */
  withdrawn: (row: RecordRow) => void;
  fail: (error: unknown) => void;
}
