"""The distance driven by the whole track."""

from __future__ import annotations

import numpy as np

from ebbline.measure.laps.ruler import Ruler, distances_at
from ebbline.measure.track.gaps import gaps_of
from ebbline.measure.track.track import Track
from ebbline.records import Distance


def distance_of(track: Track | None, ruler: Ruler | None) -> Distance:
    """From the first fix to the last, with how it was measured and the gaps in it."""
    if track is None:
        return Distance(None, None, "no positions")
    ends = distances_at(track, np.array([track.t_s[0], track.t_s[-1]]), ruler)
    source = "positions and the phone's own speeds" if track.uses_doppler else "positions"
    method = f"smoothed {source}"
    if ruler is not None:
        method += f", {ruler.lap_of.shape[0]} {ruler.source} laps as reference"
    return Distance(ends.since_start(1), track.polyline_m, method, gaps_of(track))
