// What the phone's durable memory offers. Types only: a phone never fetches this file.
import type { ChunkRow, Counts, Fix, Held, NewPhoto, PhotoRow, RecordRow, SessionRow, State } from "./rows";

/** Every promise resolves when its transaction is complete. */
export interface Store extends PhotoStore {
  /** undefined when never set */
  meta(key: string): Promise<any>;
  setMeta(key: string, value: unknown): Promise<void>;

  session(id: string): Promise<SessionRow | undefined>;
  /** newest first */
  sessions(): Promise<SessionRow[]>;
  /** a new one */
  addSession(row: SessionRow): Promise<void>;
  /**
   * Change a session's row; every version of its set-up stays in this phone's history.
   * @param change called inside the transaction
   * @returns the row as it is now
   */
  changeSession(id: string, change: (row: SessionRow) => SessionRow): Promise<SessionRow>;
  /** The server lost what it once confirmed: all of it is unsent again, the set-up too. */
  startOver(id: string): Promise<void>;
  /** What the server refused is offered once more: a newer server may take it. */
  retryRefused(id: string): Promise<void>;

  addRecord(row: RecordRow): Promise<void>;
  /** Drafts that wait longer than this for their detail become records; it can still follow. */
  releaseDrafts(session: string, now_ms: number, wait_ms: number): Promise<void>;
  /**
   * A draft becomes a record; one that already is stays as it is.
   * @returns whether this call finished it
   */
  finishDraft(id: string, doc: Record<string, any>): Promise<boolean>;
  /** in the order taken */
  records(session: string): Promise<RecordRow[]>;
  /** the first of them in the order taken, which is the order that the server goes by */
  recordsIn(session: string, most: number, state?: State): Promise<RecordRow[]>;
  /**
   * Write down the server's answer.
   * @param held ids
   */
  settleRecords(held: string[], refused: { id: string; problem: string }[]): Promise<void>;

  /**
   * Append fixes; those there already stay as they are. Their seq is given out inside the
   * transaction, so that two tabs or a reload can't give the same one twice. A clock set back
   * starts a new chunk.
   * @param along_m running distance after the last of them
   */
  addFixes(
    session: string, device: string, fixes: Fix[], along_m: number, durability?: "strict" | "relaxed",
  ): Promise<void>;
  /** in order of seq */
  chunks(session: string): Promise<ChunkRow[]>;
  lastChunk(session: string): Promise<ChunkRow | null>;
  unsentChunks(session: string, most: number): Promise<ChunkRow[]>;
  settleChunks(session: string, changes: { first: number; change: Partial<ChunkRow> }[]): Promise<void>;

  /** The page is left and may be kept in the page cache: nothing is read or written until `back`. */
  leave(): void;
  /** It is shown again. */
  back(): void;

  /** what the server doesn't hold */
  counts(session: string): Promise<Counts>;
  /** What the server confirmed to hold; null while too much waits to be sent to count it cheaply. */
  heldCounts(session: string): Promise<Held | null>;
}

export interface PhotoStore {
  /**
   * Keep a picture. The same picture again changes nothing. Call `outbox.soon()` afterwards:
   * pictures have a queue of their own, so that they hold up no tap.
   * @throws {DOMException} QuotaExceededError when what is free is left for taps
   * @throws {TypeError} when there are no bytes
   */
  addPhoto(photo: NewPhoto): Promise<PhotoRow>;
  /** in the order taken, without bytes */
  photos(session: string): Promise<PhotoRow[]>;
  photoBytes(session: string, sha256: string): Promise<ArrayBuffer | undefined>;
  /** one that waits to be sent */
  unsentPhoto(session: string): Promise<PhotoRow | null>;
  /** Write down the server's answer. */
  settlePhoto(
    session: string, sha256: string, change: Pick<PhotoRow, "state"> & Partial<PhotoRow>,
  ): Promise<void>;
}
