// What the phone keeps, row by row. Types only: a phone never fetches this file.

/** `held`: the server has it for good. */
export type State = "draft" | "unsent" | "held" | "refused";

export interface SessionRow {
  id: string;
  /** the session file's set-up part */
  setup: Record<string, any>;
  /** what the server held at `revision` */
  base_setup: Record<string, any> | null;
  /** of the server; null when it never had this session */
  revision: number | null;
  setup_unsent: 0 | 1;
  created_ms: number;
  /** the cautions were accepted on this phone */
  accepted: boolean;
  /** lets this phone add to the session; it came by a code to scan */
  token?: string;
}

/** An event, a reading or a clock check. */
export interface RecordRow {
  id: string;
  session: string;
  type: "event" | "reading" | "clock_check";
  state: State;
  /** as it is sent */
  doc: Record<string, any>;
  /** when it was taken, for order */
  stored_ms: number;
  /** our running distance at that moment */
  along_m: number | null;
  /** why the server refused it */
  problem?: string;
}

export interface Fix {
  t_ms: number;
  lat: number;
  lon: number;
  accuracy_m: number | null;
  speed_mps: number | null;
  heading_deg: number | null;
  altitude_m: number | null;
  fix_ms: number;
  wall_ms: number;
  mono_ms: number;
  page: string;
}

/** A few successive fixes as columns. */
export interface ChunkRow {
  session: string;
  /** first seq; with the session, the key */
  first: number;
  last: number;
  state: Exclude<State, "draft">;
  device: string;
  columns: Record<string, any[]>;
  /** running distance after the last fix */
  along_m: number;
  /** sent as an entry of its own, after a refusal in company */
  alone?: boolean;
  problem?: string;
}

/** What the server doesn't hold. */
export interface Counts { records: number; chunks: number; refused: number; drafts: number; photos: number }

/** How much of each the server confirmed. */
export interface Held { records: number; fixes: number; photos: number }

/** What is known of a picture or a spoken note; its bytes lie apart. */
export interface PhotoRow {
  session: string;
  /** of its bytes, in hex; with the session, the key */
  sha256: string;
  /** id of the tap it was taken with */
  event: string | null;
  /** when it was taken, by this phone's clock */
  t_ms: number;
  device: string;
  media_type: string;
  size_bytes: number;
  state: "unsent" | "held" | "refused";
  /** why the server refused it */
  problem?: string;
}

export interface NewPhoto {
  session_id: string;
  /** id of the tap (or reading) it belongs to; null for none */
  event_id: string | null;
  /** whole milliseconds, from `clock.stamp()` */
  t_ms: number;
  device: string;
  /** "image/jpeg", "image/png", "image/webp", "image/heic", "audio/webm" or "audio/mp4" */
  media_type: string;
  /** the picture or the sound as it will be sent */
  bytes: ArrayBuffer;
}
