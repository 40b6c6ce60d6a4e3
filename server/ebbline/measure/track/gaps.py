"""Stretches without fixes: what was bridged, and a finding for each that matters."""

from __future__ import annotations

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.track.distances import gnss_distances
from ebbline.measure.track.track import Track
from ebbline.records.result import Finding, Gap


def gaps_of(track: Track) -> tuple[Gap, ...]:
    """Every gap with the distance bridged across it and its interval."""
    starts = np.flatnonzero(track.gap)
    if starts.size == 0:
        return ()
    ends = gnss_distances(track, track.t_s[np.concatenate([starts, starts + 1])])
    gaps = []
    for k, start in enumerate(starts):
        bridged = quantity.not_negative(ends.interval(k, k + starts.size))
        if bridged is not None:
            from_ms, to_ms = np.round(track.t_s[start : start + 2] * 1000).astype(int)
            gaps.append(Gap(int(from_ms), int(to_ms), bridged))
    return tuple(gaps)


def gap_findings(track: Track) -> list[Finding]:
    """One finding for all gaps over which the car may have moved; none where it was parked."""
    lasting_s = np.array(
        [known.gap.lasting_s for known in track.unseen.passages if not known.gap.parked]
    )
    if lasting_s.size == 0:
        return []
    return [
        Finding(
            "doubt",
            "gaps",
            f"{lasting_s.size} {'gap' if lasting_s.size == 1 else 'gaps'} in the positions, "
            f"{np.sum(lasting_s):.0f} s in all, the longest {np.max(lasting_s):.0f} s: the car may "
            f"have driven on, or stood. The intervals hold both where nothing else tells.",
            "distance.gaps",
        )
    ]
