/** Shapes of what the API answers, as far as the desk reads them. SI unless the name says otherwise. */
import type { Quantity } from "../../shared/units.js";

export type Q = Quantity | null;

/** A figure of which bounds alone are known; an end that nothing bounds is null. */
export interface Bounds { value: number | null; low: number | null; high: number | null }

export interface RawEvent {
  id: string; device: string; t_ms: number; kind: string;
  text?: string | null; value?: number | null; unit?: string | null; class?: string | null; done_by?: string | null;
  tap_delay_s?: { mean: number; sd: number } | number | null;
  corrects?: string | null; withdraws?: boolean;
  reason?: string | null; by?: string | null; written_at?: string | null;
}

export interface RawReading {
  id: string; device: string; t_ms: number; quantity: string; value: number | null; unit: string;
  resolution?: number | null; rounding?: "nearest" | "down" | null; about?: boolean | null;
  source?: string | null; photo?: string | null; corrects?: string | null;
  reason?: string | null; by?: string | null; written_at?: string | null;
}

export interface RawPhoto {
  sha256: string; t_ms?: number | null; device?: string | null; media_type?: string | null; event?: string | null;
}

export interface Exclusion { device: string; from_ms: number; to_ms: number; reason?: string | null }
/** What one file brought for one device; times by that device's clock. */
export interface ImportedFile {
  name: string; sha256: string; device: string; taken_at: string;
  fixes: number; events: number; log_rows: number; from_ms: number; to_ms: number;
}
export interface Revision { revision: number; saved_at: string; setup: Setup }

export interface Setup {
  excluded?: Exclusion[] | null;
  session?: { id?: string; title?: string | null; started_at?: string | null; time_zone?: string | null; notes?: string | null } | null;
  vehicle?: { label?: string | null; software?: string | null; odometer_km?: number | null; pack?: { usable_kwh?: number | null } | null } | null;
  conditions?: { ambient_c?: number | null; climate?: string | null; drive_mode?: string | null; surface?: string | null } | null;
  protocol?: { start_soc_pct?: number | null; speed_band_kmh?: [number, number] | null; tap_delay_s?: { mean: number; sd: number } | null;
    zero_basis?: "zero_soc" | "zero_range" | "moment" | null; zero_ms?: number | null; reserve_end?: string | null; which_end?: "first" | "last" | null; held_speed_kmh?: number | null; charging_efficiency?: number | null } | null;
  course?: { label?: string | null; surveyed_lap_m?: number | null; closed?: boolean | null } | null;
  devices?: { id: string; label?: string | null; clock_offset_ms?: number | null }[] | null;
}

export interface SessionDocument {
  id: string; revision: number; setup: Setup;
  events: RawEvent[]; readings: RawReading[]; photos: RawPhoto[]; fix_count: number; imported_files: ImportedFile[];
  clock_checks?: { device: string; offset_ms: number; round_trip_ms: number }[];
}

/** A result's headline figures, as far as the list shows them. */
export interface HeadlineFigures {
  reserve_distance_m: Q; reserve_energy_kwh: Q; share_of_usable_pct: Q; consumption_wh_per_km: Q;
}

/** A line of the list; where not worked out, figures are of before something changed, null if there never were any. */
export interface SessionRow {
  id: string; title: string | null; started_at: string | null;
  vehicle_label: string | null; course_label: string | null;
  event_count: number; reading_count: number; fix_count: number;
  outcome: "past zero" | "before zero" | "no drive" | null;
  figures: HeadlineFigures | null; updated_at: string | null;
  archived: boolean; worked_out: boolean; failure: string | null;
  published_at: string | null; published_differs: boolean | null;
}

export interface Listing { sessions: SessionRow[]; total: number; behind: number }

export interface Campaign {
  id: string; revision: number; name: string; notes: string | null;
  zero_basis: "zero_soc" | "zero_range" | null; reserve_end: string | null;
  session_ids: string[]; left_out: { session_id: string; why: string }[]; tested_by: string | null;
  created_at: string; updated_at: string;
}
export interface CampaignLine extends Campaign {
  published_at: string | null;
  /** null: not compared since something changed */
  published_differs: boolean | null;
}

export interface TimelineEntry {
  event_id: string; kind: string; t_ms: number; at_ms: Quantity;
  distance_m: Q; past_zero_m: Q; energy_past_zero_kwh: Q; left_m: Q; left_kwh: Q; speed_mps: Q;
  /** of a warning, where it was put into one */
  class: string | null;
}

export interface Lap { number: number; from_ms: number; to_ms: number; length_m: Quantity; duration_s: Quantity; energy_kwh: Q }
export interface Finding { severity: "note" | "doubt" | "error"; code: string; message: string; where: string; told: Phrase[] }
/** Words of a message; a figure among them in SI, or milliseconds since the epoch. */
export interface Phrase { words: string; of: "t_ms" | "day_ms" | "distance_m" | "speed_mps" | null; value: number | null }

export interface Recharge {
  plug_in_ms: number | null; trickle_s: Q; trickle_kw: Q; trickle_kwh: Q; full_power_kw: Q;
  energy_in_kwh: Q; energy_to_soc: { soc_pct: number; energy_kwh: Quantity }[]; below_zero_kwh: Q;
  highest_kw: Bounds | null; trickle_end_s: Bounds | null;
}

export interface FromOtherZero { distance_m: Q; energy_kwh: Q }
export interface EndOfReserve { event_id: string; distance_m: Q; energy_kwh: Q }

export interface HeldAt { t_ms: number; past_zero_m: Q; energy_past_zero_kwh: Q }
export interface PackVoltage { moment: "shut_off" | "rested" | "precharged" | "trickle"; t_ms: number; volts: Quantity; per_cell_v: Q }

export interface ResultDocument {
  engine: string; input_sha256: string;
  distance: { total_m: Q; polyline_m: number | null; method: string; gaps: { from_ms: number; to_ms: number; bridged_m: Quantity }[] };
  laps: Lap[];
  lap_check: { surveyed_m: number; measured_m: Quantity; ratio: Quantity; agrees: boolean } | null;
  trip_check: { ratio: Quantity; agrees: boolean } | null;
  zero: { basis: string | null; t_ms: number | null; trip_reset_after_m: Q; zero_range_after_m: Q };
  reserve: { distance_m: Q; energy_kwh: Q; duration_s: Q; share_of_usable_pct: Q; shut_down_before_zero: boolean; ends_at: string | null;
    end_event_id: string | null; first_end: EndOfReserve | null; last_end: EndOfReserve | null;
    basis: "positions" | "trip_meter" | "both" | null; from_zero_range: FromOtherZero | null; from_zero_soc: FromOtherZero | null };
  shown: { trip_distance_m: number | null; trip_energy_kwh: number | null; reading_ids: string[]; reset_after_zero_m: Q } | null;
  timeline: TimelineEntry[];
  limits: { from_ms: number; to_ms: number; speed_mps: Q; road_load_kw: Q; grade_pct: Q; wheels_kw: Q; pack_kw: Q; past_zero_m: Q; energy_past_zero_kwh: Q }[];
  recharge: Recharge | null;
  held_speed: { speed_mps: number; last_held: HeldAt | null; first_not_held: HeldAt | null } | null;
  pack_voltage: PackVoltage[];
  consumption: { past_zero_wh_per_km: Q; by_speed: { from_ms: number; to_ms: number; speed_mps: Quantity; wh_per_km: Quantity }[] };
  balance: { driven_below_zero_kwh: Q; recharged_below_zero_kwh: Q; agrees: boolean | null } | null;
  findings: Finding[];
}

export type Column = (number | null)[];
export interface Band { value: Column; low: Column; high: Column }

export interface CurvesDocument {
  t_ms: number[]; lat: Column; lon: Column; speed_mps: Band; distance_m: Band; past_zero_m: Band;
  energy_past_zero_kwh: Band; in_gap: boolean[];
  recharge_t_ms: number[]; recharge_energy_kwh: Band; recharge_power_kw: Band;
  log_t_ms?: number[]; log_energy_kwh?: Band;
  fade_energy_kwh?: Column; fade_power_kw?: Band;
  available_t_ms: number[]; available_energy_kwh: Column; available_power_kw: Band; available_share_pct: Band;
  shown_t_ms: number[]; shown_power_kw: Band; counted_t_ms: number[]; counted_energy_kwh: Band;
}
