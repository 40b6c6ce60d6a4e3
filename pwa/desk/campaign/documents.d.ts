/** What the server says of many sessions. */
import type { Bounds, Finding, Quantity } from "../session/documents";

export type { Campaign, CampaignLine } from "../session/documents";

export type Q = Quantity | null;
export type Figure = Quantity | Bounds | null;

export interface ComparedSession {
  session_id: string; tag: string; vehicle: string; usable_kwh: Q; chemistry: string | null;
  reserve_m: Figure; reserve_kwh: Figure; share_of_usable_pct: Figure; shut_down_before_zero: boolean; repeat_of: string | null;
  started_at: string | null; software: string | null; odometer_km: number | null; ambient_c: number | null; pack_c: number | null;
  consumption_wh_per_km: Q; residual_kwh: Figure;
}
export interface Model {
  name: "fixed" | "proportional" | "mixed"; fixed_kwh: Q; share_pct: Q; between_cars_sd_kwh: Figure; aicc: number | null; weight: number | null;
  line: { usable_kwh: number; reserve_kwh: Quantity }[];
}
export interface Influence {
  of: string; per: number | null; unit: string | null; level: string | null; against: string | null; cars: number;
  change_kwh: Q; clear: boolean | null; reason: string | null;
}
export interface TrustInWarning {
  class: string; n: number; least_left_m: Q; median_left_m: Figure; least_left_kwh: Q; median_left_kwh: Figure; least_left_s: Q; median_left_s: Figure;
  least_vehicle: string | null;
  bound: { share: number; confidence: number; least_share: number; left_m: number | null; left_kwh: number | null; left_s: number | null; method: string | null; reason: string | null };
}
export interface Repeat {
  vehicle: string; session_ids: [string, string]; difference_kwh: Q; difference_m: Q; agrees: boolean | null; apart: ("energy" | "distance")[];
  software: [string | null, string | null]; odometer_difference_km: number | null; per_1000_km_kwh: Q;
}
export interface Comparison {
  engine: string; zero_basis: string | null; reserve_end: string | null;
  sessions: ComparedSession[]; left_out: { session_id: string; why: string; tag: string | null }[];
  reserve_model: {
    models: Model[]; verdict: "fixed" | "proportional" | "mixed" | "undecided"; statement: string; cars: number; sessions: number;
    mean_usable_kwh: number | null; next_car_kwh: Q; without: { vehicle: string; session_ids: string[]; verdict: string; fixed_kwh: Q; share_pct: Q }[];
    influences: Influence[];
  };
  behind: string[];
  warnings: TrustInWarning[]; repeats: Repeat[]; findings: Finding[];
}

export interface Pair {
  engine: string; session_ids: [string, string];
  figures: { name: string; one: Q; other: Q; difference: Q; agrees: boolean | null }[];
  differs: { name: string; one: string | number | boolean | null; other: string | number | boolean | null }[];
}
