// What is heard of the other phones. Types only: a phone never fetches this file.
import type { Request } from "../../shared/api.js";
import type { RecordRow, SessionRow } from "../storage/rows";

/** What the server says of the others' records. */
export interface Told {
  /** where these begin; at the beginning, what was told before is void */
  since: string;
  until: string;
  devices: { id: string; label: string | null; clock_offset_ms: number | null }[];
  events: Record<string, any>[];
  readings: Record<string, any>[];
}

export interface Recording {
  row: SessionRow;
  /** running distance at a moment; null where that isn't known (yet) */
  alongAt: (t_ms: number) => number | null;
}

/** What is kept of the others, of the session recorded last. */
export interface Heard {
  session: string;
  /** when that was told, by the wall clock */
  at_ms: number;
  told: Told;
}

export interface CrewParts {
  request: Request;
  device: string;
  /** what is being recorded */
  run: () => Recording | null;
  /** whether the page is looked at, and the server has the session and what is recorded here */
  mayAsk: (row: SessionRow) => Promise<boolean>;
  monoMs: () => number;
  wallMs: () => number;
  remember: (heard: Heard) => Promise<unknown>;
  remembered: () => Promise<Heard | undefined>;
  /** in [0, 1) */
  random: () => number;
  onNews: (rows: RecordRow[]) => void;
}
