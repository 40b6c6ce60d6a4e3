// Courses, and what the set-up and the checklist are given by the wiring. Types only: a phone never fetches this file.
import type { Facts } from "../../shared/facts.js";
import type { Units } from "../../shared/measures.js";
import type { WakeState } from "../../shared/keep-awake.js";
import type { Stamp } from "../phone/types";
import type { Store } from "../storage/keeping";
import type { KnownCar } from "./cars.js";
import type { Purpose } from "./setup.js";
import type { Item } from "./view-checklist.js";
import type { createGate } from "./view-gate.js";

export interface SetupValues {
  title: string;
  vehicle: string;
  course: string;
  surveyed_lap_m: number | null;
  surveyed_lap_sd_m: number | null;
  use_checked_lap: boolean;
  start_soc_pct: number | null;
  band_low_kmh: number | null;
  band_high_kmh: number | null;
  /** of car and day, also those that the form doesn't ask for */
  facts: Facts;
}

export interface SetupField {
  name: Exclude<keyof SetupValues, "use_checked_lap" | "facts">;
  label: string;
  unit?: string;
  /** for numbers: least and most */
  range?: [number, number];
  required?: boolean;
  /** not asked for a lap check */
  runOnly?: boolean;
  /** kept in km/h, asked for in the user's unit */
  speed?: boolean;
  /** a standard deviation, shown as the half width of its 95 % interval */
  spread?: boolean;
}

export interface SetupParts {
  heading: string;
  /** label of the key that goes on */
  next: string;
  purpose: Purpose;
  /** this phone knows */
  courses: Courses;
  cars: KnownCar[];
  units: Units;
  save: (values: SetupValues) => Promise<void>;
  back: () => void;
}

/** What the phone has ready. */
export interface GateState {
  /** the page may not have the position */
  denied: boolean;
  /** of the latest position; null: none yet */
  accuracy_m: number | null;
  /** whether the browser promised to keep what is stored; null: not told */
  kept: boolean | null;
  wake: WakeState;
}

export interface GateLine {
  name: string;
  state: string;
  tone: "good" | "doubt" | "bad";
  /** what helps; empty where nothing is wrong */
  remedy: string;
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
  gate: ReturnType<typeof createGate>;
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

/** The start line, across the way that the car goes. */
export interface Gate { lat: number; lon: number; heading_deg: number; half_width_m: number }

/** What a lap check found, kept with the course in the set-up. */
export interface CheckedLap {
  length_m: number;
  sd_m: number;
  laps: number;
  /** RFC 3339 */
  checked_at: string;
  session_id: string;
  /** from the phone alone, not from the measuring core */
  provisional?: boolean;
}

/** A course as in a session's set-up. */
export interface Course {
  label: string;
  surveyed_lap_m?: number | null;
  surveyed_lap_sd_m?: number | null;
  gate?: Gate | null;
  checked_lap?: CheckedLap | null;
}

/** By label. */
export type Courses = Record<string, Course>;
