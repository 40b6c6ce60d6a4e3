/** What the API says of files before they are taken in. */

export interface GuessedColumn {
  column: string; number: number; as: string; sure: "sure" | "likely" | "unsure"; because: string;
}

export interface Guess { mapping: Record<string, any>; columns: GuessedColumn[]; open: string[] }

export interface Look {
  kind: "gpx" | "csv"; devices: string[]; fixes: number; events: number; log_rows: number;
  from_ms: number | null; to_ms: number | null; notes: string[]; guess: Guess | null;
  units: Record<string, string[]>;
}

export interface Taken { id: string; devices: string[]; fixes: number; events: number; log_rows: number; notes: string[] }

export interface Answer { status: number; body: any }

/** The session that what is brought in belongs to. */
export interface Target {
  id: string; clock: import("../session/clock.js").SessionClock; zone: string | null;
  nearMs: number; events: { atMs: number; words: string }[];
}
