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

/** A paragraph in the reader's units, and sentences that belong beside it. */
export interface ToPaste { paragraph: string; said_with: string[] }

/** What was published once, and by how much it is otherwise now. */
export interface Publication {
  id: string; published_at: string; by: string | null; note: string | null;
  engine: string; input_sha256: string; revision: number;
  comparable: boolean; reasons: ("engine" | "evidence" | "choices")[]; erratum: string | null;
  changed: { key: string; of: string | null; words: string; dimension: import("../../shared/units.js").Dimension;
    old: Told; new: Told }[];
  reworded: { key: string; old: string | null; new: string | null }[];
}
type Told = import("../session/documents").Bounds | null;

export interface PublishedSession extends Publication { figures: import("../session/documents").HeadlineFigures }

export interface PublishedCampaign extends Publication {
  answer: { name: string; statement: string; verdict: "fixed" | "proportional" | "mixed" | "undecided"; cars: number; sessions: number; left_out: number };
}
