"""Where the car is now and how far past zero, roughly, while evidence is still coming in.

Not the smoother: this has to be quick and may be wrong by what the smoother would mend, so its
intervals are wide and everything made of it is called provisional. Distance is the trapezoid of
the receiver's speeds, of the chord where a speed is not known.
"""

from __future__ import annotations

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.geodesy import legs_m
from ebbline.records.arrays import FloatArray, IntArray
from ebbline.records.result import Quantity

GAP_S = 10.0  # between fixes; over a longer time the speed may have been anything
# Common practice, no source: what such a sum is off by, as shares of it (one sigma).
SHARE_DRIVEN, SHARE_IN_GAPS = 0.005, 0.1


def steps_m(
    t_ms: IntArray, lat: FloatArray, lon: FloatArray, speed_mps: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """How far it was between neighbouring fixes, and how sure that is.

    Args:
        t_ms: (n,) in rising order; equal stamps add nothing.
        lat: (n,) degrees.
        lon: (n,) degrees.
        speed_mps: (n,), NaN where not known.

    Returns:
        (n - 1,) metres, and their standard deviations. Within ``GAP_S`` seconds it is the mean
        of the two speeds times the time; where a speed is not known, and over a gap, the chord.
    """
    dt_s = np.diff(t_ms) / 1000
    if dt_s.size == 0:
        return np.empty(0), np.empty(0)
    chord_m = legs_m(lat, lon)
    driven_m = dt_s * (speed_mps[:-1] + speed_mps[1:]) / 2
    in_gap = dt_s > GAP_S
    by_chord = np.isnan(driven_m) | in_gap
    step_m = np.where(by_chord, chord_m, driven_m)
    step_m[dt_s <= 0] = 0.0
    return step_m, step_m * np.where(in_gap, SHARE_IN_GAPS, SHARE_DRIVEN)


def past_m(
    t_ms: IntArray, along_m: FloatArray, along_sd_m: FloatArray, zero_ms: float, zero_sd_s: float
) -> Quantity | None:
    """Distance from the zero to the last fix; None before there is a fix behind the zero.

    Args:
        t_ms: (n,) rising.
        along_m: (n,) driven since the first fix.
        along_sd_m: (n,) its standard deviation, adding up fully: errors of one kind share a sign.
        zero_ms: the moment of the zero, by the clock of ``t_ms``.
        zero_sd_s: standard deviation of that moment.
    """
    if t_ms.size < 2 or t_ms[-1] < zero_ms:
        return None
    at_zero_m, sd_at_zero_m = (
        float(np.interp(zero_ms, t_ms, column)) for column in (along_m, along_sd_m)
    )
    near = np.searchsorted(t_ms, zero_ms)
    first, last = max(int(near) - 3, 0), min(int(near) + 3, t_ms.size - 1)
    span_s = (t_ms[last] - t_ms[first]) / 1000
    speed_mps = (along_m[last] - along_m[first]) / span_s if span_s > 0 else 0.0
    value_m = float(along_m[-1]) - at_zero_m
    sd_m = float(np.hypot(along_sd_m[-1] - sd_at_zero_m, speed_mps * zero_sd_s))
    return quantity.normal(value_m, sd_m, floor=0.0)


def past_kwh(
    t_ms: IntArray,
    low_kwh: FloatArray,
    high_kwh: FloatArray,
    zero_ms: float,
    reset_ms: float | None = None,
) -> Quantity | None:
    """Energy by the display from the zero to its last reading behind it.

    At the zero the display stood between what it showed before and after; in proportion to time,
    at best. Where the trip was only reset behind the zero, what was used up to then is taken to
    be as much in that time as since, give or take all of it. None where neither can be said.

    Args:
        t_ms: (k,) of the readings of energy since the trip was reset, rising.
        low_kwh: (k,) the least that each may mean.
        high_kwh: (k,) the most.
        zero_ms: the moment of the zero.
        reset_ms: when the display was set to 0, before the first of them; None: not known.
    """
    if t_ms.size and reset_ms is not None:
        t_ms = np.concatenate([[round(reset_ms)], t_ms])
        low_kwh, high_kwh = (np.concatenate([[0.0], kwh]) for kwh in (low_kwh, high_kwh))
        if zero_ms < t_ms[0]:
            return _with_lead(t_ms, low_kwh, high_kwh, zero_ms)
    behind = np.flatnonzero(t_ms >= zero_ms)
    before = np.flatnonzero(t_ms <= zero_ms)
    if behind.size == 0 or before.size == 0:
        return None
    last, after, ahead = behind[-1], behind[0], before[-1]
    middle_kwh = (low_kwh + high_kwh) / 2
    at_zero_kwh = float(
        np.interp(zero_ms, [t_ms[ahead], t_ms[after]], [middle_kwh[ahead], middle_kwh[after]])
    )
    value_kwh = float(middle_kwh[last]) - at_zero_kwh
    least = max(float(low_kwh[last] - high_kwh[after]), 0.0)
    most = float(high_kwh[last] - low_kwh[ahead])
    return Quantity(max(value_kwh, least), least, max(most, value_kwh))


def _with_lead(
    t_ms: IntArray, low_kwh: FloatArray, high_kwh: FloatArray, zero_ms: float
) -> Quantity | None:
    lead_ms, seen_ms = t_ms[0] - zero_ms, t_ms[-1] - t_ms[0]
    if lead_ms > seen_ms or seen_ms <= 0:
        return None
    shown_kwh = float(low_kwh[-1] + high_kwh[-1]) / 2
    lead_kwh = shown_kwh * float(lead_ms / seen_ms)
    return Quantity(shown_kwh + lead_kwh, float(low_kwh[-1]), float(high_kwh[-1]) + 2 * lead_kwh)
