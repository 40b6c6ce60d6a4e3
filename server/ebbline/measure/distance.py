"""The distance driven in all."""

from __future__ import annotations

from ebbline.measure import quantity
from ebbline.measure.motion.motion import Motion
from ebbline.measure.track.gaps import gaps_of
from ebbline.records.result import Distance


def distance_of(motion: Motion | None) -> Distance:
    """From the first fix to the last, or as far as the trip meter reaches beyond them, with how it
    was measured and the gaps in it.
    """
    if motion is None or not motion.tells_distance:
        return Distance(None, None, "no positions")
    ends = motion.distances(motion.ends_s())
    total = ends.since_start(1) if motion.beyond is None else ends.interval(0, 1)
    track, ruler = motion.track, motion.ruler
    methods = []
    if track is not None:
        source = "positions and the phone's own speeds" if track.uses_doppler else "positions"
        methods.append(f"smoothed {source}")
    if ruler is not None:
        methods.append(f"{ruler.lap_of.shape[0]} {ruler.source} laps as reference")
    if motion.beyond is not None:
        where = "beyond them " if track is not None else ""
        methods.append(f"{where}the car's own meter by {motion.beyond.readings} readings")
    return Distance(
        total_m=quantity.not_negative(total),
        polyline_m=track.polyline_m if track else None,
        method=", ".join(methods),
        gaps=gaps_of(track) if track else (),
    )
