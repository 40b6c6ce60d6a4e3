/** What the API says can be published of a session. */

export interface Piece {
  key: string; file_name: string; title: string; group: "report" | "pictures" | "film" | "data";
  media_type: string; camera: string | null;
}

export interface Camera {
  name: string; offset_s: number; half_width_s: number; marks: number; agree: boolean; words: string;
}

export interface Missing { title: string; why: string }

export interface Offer { pieces: Piece[]; cameras: Camera[]; missing: Missing[] }
