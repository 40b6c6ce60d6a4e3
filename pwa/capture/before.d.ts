// What the pages before a recording are given by the wiring. Types only: a phone never fetches this file.
import type { Units } from "../shared/measures.js";
import type { Clock } from "./clock.js";
import type { Courses } from "./figures";
import type { Request, Stamp } from "./recording";
import type { Purpose } from "./setup.js";
import type { Store } from "./store.js";
import type { Item } from "./view-checklist.js";

export interface SetupValues {
  title: string;
  vehicle: string;
  usable_kwh: number | null;
  course: string;
  surveyed_lap_m: number | null;
  surveyed_lap_sd_m: number | null;
  use_checked_lap: boolean;
  start_soc_pct: number | null;
  band_low_kmh: number | null;
  band_high_kmh: number | null;
  ambient_c: number | null;
  climate: string;
  drive_mode: string;
}

export interface SetupField {
  name: Exclude<keyof SetupValues, "use_checked_lap">;
  label: string;
  unit?: string;
  /** for numbers: least and most */
  range?: [number, number];
  required?: boolean;
  /** not asked for a lap check */
  runOnly?: boolean;
  /** kept in km/h, asked for in the user's unit */
  speed?: boolean;
}

export interface SetupParts {
  heading: string;
  /** label of the key that goes on */
  next: string;
  purpose: Purpose;
  /** this phone knows */
  courses: Courses;
  units: Units;
  save: (values: SetupValues) => Promise<void>;
  back: () => void;
}

export interface ChecklistParts {
  title: string;
  /** car, course and plan in one line */
  about: string;
  /** asks for the cautions alone */
  lapCheck: boolean;
  /** items that stand ticked */
  ticked: ReadonlySet<string>;
  /** resolves when durable */
  tick: (item: Item, ticked: boolean) => Promise<unknown>;
  start: (purpose: Purpose) => Promise<void>;
  edit: () => void;
  back: () => void;
}

export interface ChecklistLogParts {
  store: Store;
  session: string;
  device: string;
  newId: () => string;
  stamp: () => Stamp;
  here: () => GeolocationPosition | null;
  onChange: () => void;
}

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
  /** takes the newer version into use, where one lies ready */
  newVersion: () => (() => void) | null;
  show: (view: HTMLElement) => void;
  /** shown where no drive page can say it */
  tell: (text: string) => void;
  /** a set-up has changed */
  changed: (id: string, setup: Record<string, any>) => void;
  sendSoon: () => void;
  openMenu: () => void;
  openRun: (id: string) => Promise<void>;
  /** of a session that is not being driven */
  openLog: (id: string) => Promise<void>;
  exportFile: (id: string) => Promise<void>;
}
