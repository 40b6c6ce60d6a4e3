"""What taps say of the gaps in the positions: that the car stood, or that nothing drove it.

Warnings and whatever else the car shows say nothing of where it is.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ebbline.measure.time.moments import Events
from ebbline.measure.track.gap_evidence import GapEvidence
from ebbline.measure.track.gap_passages import Unseen, even_chances, passages
from ebbline.measure.track.track import Track

_AT_REST = ("standstill", "plug_in", "charge_start", "charge_end")
_UNDRIVEN = ("propulsion_off", "contactors_open")
# A car that nothing drives slows by at least so much on the level; one faster than that by a margin
# is driven, whatever was tapped (common practice, no source).
_SLOWS_MPS2, _MARGIN_MPS = 0.03, 1.0


def heed_taps(track: Track | None, events: Events) -> Track | None:
    """The track with the possibilities of its gaps that the taps leave; deterministic."""
    if track is None or not track.unseen.passages:
        return track
    heeded = []
    changed = False
    for known in track.unseen.passages:
        gap = _coasting(_still(known.gap, events), events, track)
        if gap is known.gap:
            heeded.append(known)
            continue
        changed = True
        heeded.append(passages(gap, even_chances(known.length_m.size)))
    return track.with_unseen(Unseen(tuple(heeded))) if changed else track


def _still(gap: GapEvidence, events: Events) -> GapEvidence:
    """From the first tap at rest to the last; where the car is at rest when seen again, to then."""
    into_s = [
        timed.moment.t_s - gap.from_s
        for timed in events
        if timed.event.kind in _AT_REST and 0 < timed.moment.t_s - gap.from_s < gap.lasting_s
    ]
    if not into_s:
        return gap
    return replace(gap, still_s=(into_s[0], gap.lasting_s if gap.end_mps == 0 else into_s[-1]))


def _coasting(gap: GapEvidence, events: Events, track: Track) -> GapEvidence:
    """Since when nothing drove the car, if that was before the gap's end and it slowed since."""
    end_s = gap.from_s + gap.lasting_s
    undriven = [
        timed.moment.t_s
        for timed in events
        if timed.event.kind in _UNDRIVEN and timed.moment.t_s < end_s
    ]
    driven = [
        timed.moment.t_s
        for timed in events
        if timed.event.kind in ("restart", "contactors_closed") and timed.moment.t_s < end_s
    ]
    since = [t_s for t_s in undriven if not driven or t_s > driven[-1]]
    if not since:
        return gap
    after_s = track.t_s - since[0]
    rolling_mps = float(np.interp(since[0], track.t_s, track.speed_mps)) + _MARGIN_MPS
    driven_on = track.speed_mps > np.maximum(rolling_mps - _SLOWS_MPS2 * after_s, _MARGIN_MPS)
    if np.any(driven_on[after_s > 0]):
        return gap
    return replace(gap, coasting_from_s=since[0] - gap.from_s)
