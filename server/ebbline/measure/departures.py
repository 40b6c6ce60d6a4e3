"""Where a run departed from its own protocol: speeds outside the band, another start."""

from __future__ import annotations

import math

import numpy as np

from ebbline.measure.display import interval_of
from ebbline.measure.full_throttle.limits import full_throttle_windows
from ebbline.measure.naming import speed
from ebbline.measure.numerics.stretches import stretches
from ebbline.measure.run import Run
from ebbline.measure.time.moments import TimedReading
from ebbline.records.arrays import BoolArray, FloatArray
from ebbline.records.result import Finding
from ebbline.records.setup import Protocol

# Shorter than this the car is on its way into the band or out of it, or a receiver is late
# (common practice, no source).
_LASTING_S = 15.0
_MARGIN_MPS = 0.5
_MOVING_MPS = 1.0
_START_PCT = 1.0  # a start as near as the display can show is as planned


def departures_of(run: Run, readings: list[TimedReading], protocol: Protocol) -> list[Finding]:
    """What the reader must know of how the run was driven against how it was meant to be."""
    return [*_outside_band(run, protocol), *_other_start(run, readings, protocol)]


def _outside_band(run: Run, protocol: Protocol) -> list[Finding]:
    """Speeds outside the band that lasted, at part throttle and until the car itself held back."""
    if run.track is None or protocol.speed_band_kmh is None:
        return []
    track = run.track
    least, most = (bound / 3.6 for bound in protocol.speed_band_kmh)
    held_back_s = min(
        (run.events.first(kind) for kind in ("power_limited", "speed_capped", "propulsion_off")),
        key=lambda found: found.moment.t_s if found else math.inf,
    )
    until_s = held_back_s.moment.t_s if held_back_s else math.inf
    counts = (track.speed_mps > _MOVING_MPS) & ~np.concatenate([track.gap, [False]])
    for window in full_throttle_windows(run):
        counts &= (track.t_s < window.from_s) | (track.t_s > window.to_s)
    slow = counts & (track.speed_mps < least - _MARGIN_MPS) & (track.t_s < until_s)
    fast = counts & (track.speed_mps > most + _MARGIN_MPS)
    told = []
    for flags, way in ((fast, "faster"), (slow, "slower")):
        lasting = _lasting(track.t_s, flags)
        if lasting:
            lasted_s = sum(float(track.t_s[last] - track.t_s[first]) for first, last in lasting)
            speeds = np.concatenate([track.speed_mps[first : last + 1] for first, last in lasting])
            usual = speed(float(np.median(speeds)))
            told.append(f"{lasted_s:.0f} s {way} (at {usual} in the median)")
    if not told:
        return []
    band = " to ".join(map(speed, (least, most)))
    return [
        Finding(
            "note",
            "outside_speed_band",
            f"The plan's band is {band}; when not floored the car was driven "
            f"{' and '.join(told)}. Consumption and distance past zero depend on it.",
            "protocol.speed_band_kmh",
        )
    ]


def _lasting(t_s: FloatArray, flags: BoolArray) -> list[tuple[int, int]]:
    """The stretches that lasted, by their first and last fix."""
    return [
        (first, last) for first, last in stretches(flags) if t_s[last] - t_s[first] >= _LASTING_S
    ]


def _other_start(run: Run, readings: list[TimedReading], protocol: Protocol) -> list[Finding]:
    """The first displayed per cent against the planned one."""
    if protocol.start_soc_pct is None:
        return []
    noted = [
        (timed.moment.t_s, *interval_of(timed.reading), f"reading {timed.reading.id}")
        for timed in readings
        if timed.reading.quantity == "soc" and timed.reading.value is not None
    ]
    noted += [
        # A step is tapped when the display falls to its value.
        (timed.moment.t_s, timed.event.value, timed.event.value + 1.0, f"event {timed.event.id}")
        for timed in run.events
        if timed.event.kind == "soc_step" and timed.event.value is not None
    ]
    if not noted:
        return []
    _, low, high, where = min(noted)
    if low - _START_PCT <= protocol.start_soc_pct <= high + _START_PCT:
        return []
    return [
        Finding(
            "note",
            "other_start",
            f"The plan was to start with {protocol.start_soc_pct:g} % shown; the first noted is "
            f"{(low + high) / 2:g} %.",
            where,
        )
    ]
