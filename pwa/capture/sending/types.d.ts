// What the outboxes are given and hand on. Types only: a phone never fetches this file.
import type { Request } from "../../shared/api.js";
import type { Stamp } from "../phone/types";
import type { Store } from "../storage/keeping";
import type { ChunkRow } from "../storage/rows";

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
