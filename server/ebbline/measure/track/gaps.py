"""Stretches without fixes: what was bridged, and a finding for each that matters."""

from __future__ import annotations

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.track.distances import gnss_distances
from ebbline.measure.track.track import Track
from ebbline.records import Finding, Gap


def gaps_of(track: Track) -> tuple[Gap, ...]:
    """Every gap with the distance bridged across it and its interval."""
    starts = np.flatnonzero(track.gap)
    if starts.size == 0:
        return ()
    ends = gnss_distances(track, track.t_s[np.concatenate([starts, starts + 1])])
    gaps = []
    for k, start in enumerate(starts):
        bridged = quantity.normal(*ends.between(k, k + starts.size), floor=0.0)
        if bridged is not None:
            from_ms, to_ms = np.round(track.t_s[start : start + 2] * 1000).astype(int)
            gaps.append(Gap(int(from_ms), int(to_ms), bridged))
    return tuple(gaps)


def gap_findings(track: Track) -> list[Finding]:
    """One finding for all gaps over which the car may have moved."""
    moving = track.gap & ~(track.stopped[:-1] & track.stopped[1:])
    if not np.any(moving):
        return []
    lasting_s = np.diff(track.t_s)[moving]
    return [
        Finding(
            "doubt",
            "gaps",
            f"{lasting_s.size} gaps in the positions while driving, {np.sum(lasting_s):.0f} s in "
            f"all, the longest {np.max(lasting_s):.0f} s, are bridged; the intervals are wider "
            f"for it.",
            "distance.gaps",
        )
    ]
