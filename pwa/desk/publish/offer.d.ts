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

/** What was published once, and by how much it is otherwise now. */
export interface Publication {
  id: string; published_at: string; by: string | null; note: string | null;
  engine: string; input_sha256: string; setup_revision: number;
  figures: import("../session/documents").HeadlineFigures;
  comparable: boolean; reasons: ("engine" | "evidence" | "choices")[]; erratum: string | null;
  changed: { key: string; words: string; dimension: import("../../shared/units.js").Dimension;
    old: import("../session/documents").Q; new: import("../session/documents").Q }[];
}
