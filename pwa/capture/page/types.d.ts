// What the choices of a phone's user look like. Types only: a phone never fetches this file.
import type { PrefsBook } from "./prefs.js";

/** How one car shows a quantity. */
export interface DisplayChoice { unit: string; resolution: number }

export interface Prefs {
  /** "system": as the phone is set, and changing with it */
  theme: "system" | "day" | "night" | "contrast";
  hand: "left" | "right";
  sound: boolean;
  /** the crew agreed that a touch records what is said */
  listens: boolean;
  /** how each car shows its figures, by its label and by quantity */
  cars: Record<string, Record<string, DisplayChoice>>;
  /** last value by event kind */
  steppers: Record<string, number>;
}

export interface SettingsParts {
  prefs: PrefsBook;
  distanceUnit: "km" | "mi";
  setDistanceUnit: (unit: "km" | "mi") => void;
  /** after a change of look or hand */
  apply: () => void;
}
