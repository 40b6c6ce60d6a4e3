// What the pages before a recording are given by the wiring. Types only: a phone never fetches this file.
import type { Request } from "../../shared/api.js";
import type { Units } from "../../shared/measures.js";
import type { Clock } from "../phone/clock.js";
import type { createKeepAwake } from "../../shared/keep-awake.js";
import type { Persistence } from "../storage/persistence.js";
import type { Store } from "../storage/keeping";

export interface SessionCard {
  id: string;
  title: string;
  about: string;
  /** words on what is unsent */
  state: string;
  tone: "good" | "doubt" | "bad";
}

export interface SessionsParts {
  onPhone: SessionCard[];
  create: () => void;
  checkLap: () => void;
  open: (card: SessionCard) => void;
  exportFile: (id: string) => void;
  /** what waits, without waiting */
  sendNow: () => void;
  openMenu: () => void;
}

/** What the pages before a recording need to hang together. */
export interface EntranceParts {
  store: Store;
  request: Request;
  clock: Clock;
  newId: () => string;
  device: () => string;
  units: () => Units;
  geolocation: Geolocation | undefined;
  timeZone: string;
  /** takes the newer version into use, where one is ready */
  newVersion: () => (() => void) | null;
  show: (view: HTMLElement) => void;
  /** shown where no drive page can say it */
  tell: (text: string) => void;
  /** a set-up has changed */
  changed: (id: string, setup: Record<string, any>) => void;
  sendSoon: () => void;
  /** as somebody asks for it */
  sendNow: () => void;
  openMenu: () => void;
  /** `begins`: it is started now */
  openRun: (id: string, begins: boolean) => Promise<void>;
  keepAwake: ReturnType<typeof createKeepAwake>;
  /** whether the browser promises to keep what is stored; asks it to */
  askToKeep: () => Promise<Persistence>;
  /** of a session that is not being driven */
  openLog: (id: string) => Promise<void>;
  exportFile: (id: string) => Promise<void>;
}
