"""What one would do without Ebbline, on the same evidence: the yardsticks beside its figures.

Each is treated kindly: it gets the true moments, and fixes in the order in which they were made.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from pyproj import Geod
from simulator.receiver import Fixes

_EDGE_S = 10.0  # fixes may begin so much later and end so much earlier
_GEOD = Geod(ellps="WGS84")


def polyline_m(fixes: Fixes, between_s: np.ndarray) -> float:
    """Raw geodesics from fix to fix between two moments; NaN where fixes don't cover it."""
    t_s, first = np.unique(fixes.t_s, return_index=True)
    if not _covers(t_s, between_s):
        return float("nan")
    legs_m = np.asarray(_GEOD.line_lengths(fixes.lon[first], fixes.lat[first]))
    along_m = np.concatenate([[0.0], np.cumsum(legs_m)])
    return float(np.diff(np.interp(between_s, t_s, along_m))[0])


def speeds_m(fixes: Fixes, between_s: np.ndarray) -> float:
    """The trapezoid of the shown speeds between two moments; NaN where speeds don't cover it."""
    t_s, first = np.unique(fixes.t_s, return_index=True)
    v_mps = fixes.speed_mps[first]
    shown = np.isfinite(v_mps)
    t_s, v_mps = t_s[shown], v_mps[shown]
    if not _covers(t_s, between_s):
        return float("nan")
    inside = (t_s > between_s[0]) & (t_s < between_s[1])
    steps_s = np.concatenate([between_s[:1], t_s[inside], between_s[1:]])
    return float(np.trapezoid(np.interp(steps_s, t_s, v_mps), steps_s))


def _covers(t_s: np.ndarray, between_s: np.ndarray) -> bool:
    if t_s.size < 2:
        return False
    return bool(t_s[0] < between_s[0] + _EDGE_S and t_s[-1] > between_s[1] - _EDGE_S)


def lines_kwh(
    readings: list[dict[str, Any]],
    shown_s: dict[str, float],
    reset_s: float | None,
    at_s: np.ndarray,
) -> np.ndarray:
    """Energy (k,) at moments by straight lines between the displayed trip energies, to a constant.

    Args:
        readings: of the session file.
        shown_s: by reading id, when the display truly showed it.
        reset_s: when the trip was set to zero, which is a point on the line too.
        at_s: moments (k,).

    Before the first and up to the reset the line goes on as steep as it was; beyond the last it
    is level. NaN without two readings.
    """
    points = sorted(
        (shown_s[reading["id"]], float(reading["value"]))
        for reading in readings
        if reading["quantity"] == "trip_energy" and reading["value"] is not None
    )
    before = [point for point in points if reset_s is None or point[0] < reset_s]
    after = [point for point in points if reset_s is not None and point[0] >= reset_s]
    if len(before) < 2 or reset_s is None:
        return _line(before if reset_s is None else [(reset_s, 0.0), *after], at_s)
    at_reset = _line(before, np.array([reset_s]), onward=True)[0]
    joined = [*before, (reset_s, at_reset), *((t_s, at_reset + kwh) for t_s, kwh in after)]
    return _line(joined, at_s)


def _line(
    points: list[tuple[float, float]], at_s: np.ndarray, *, onward: bool = False
) -> np.ndarray:
    if len(points) < 2:
        return np.full(at_s.size, np.nan)
    t_s, kwh = np.array(points).T
    found = np.interp(at_s, t_s, kwh)
    found += np.minimum(at_s - t_s[0], 0.0) * (kwh[1] - kwh[0]) / max(t_s[1] - t_s[0], 1e-9)
    if onward:
        found += np.maximum(at_s - t_s[-1], 0.0) * (kwh[-1] - kwh[-2]) / (t_s[-1] - t_s[-2])
    return np.asarray(found)
