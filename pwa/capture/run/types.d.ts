// What one running recording is put together from. Types only: a phone never fetches this file.
import type { Units } from "../../shared/measures.js";
import type { Clock } from "../phone/clock.js";
import type { WakeState } from "../../shared/keep-awake.js";
import type { Signal } from "../phone/types";
import type { GpsState } from "../position/types";
import type { OutboxState } from "../sending/types";
import type { Store } from "../storage/keeping";
import type { Persistence } from "../storage/persistence.js";
import type { Counts, Fix, NewPhoto, RecordRow, SessionRow } from "../storage/rows";
import type { Cells } from "./phone-state.js";

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
  /** another tab of this phone watches the position */
  elsewhere: boolean;
  gps: GpsState;
  counts: Counts;
  kept: Persistence;
  outbox: Readonly<OutboxState>;
  wake: WakeState;
  now_ms: number;
  /** how old what is known of the session's other phones is; null: nothing is */
  crew_age_ms: number | null;
}

/** What both pages of a recording need. */
export interface LiveParts {
  signal: Signal;
  units: () => Units;
  fix: () => Fix | null;
  cells: () => Cells;
  openMenu: () => void;
  openStatus: () => void;
}

export interface PhotoKeeperParts {
  add: (photo: NewPhoto) => Promise<unknown>;
  session_id: string;
  device: string;
  standing: () => RecordRow[];
}
