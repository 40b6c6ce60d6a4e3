"""The power that the car's display said was available, beside what full throttle took."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.display import interval_of
from ebbline.measure.run import Run
from ebbline.measure.time.moments import Moment, TimedReading
from ebbline.records.arrays import FloatArray, IntArray
from ebbline.records.curves import Band
from ebbline.records.result import Finding, Limit, Quantity


@dataclass(frozen=True, slots=True, eq=False)
class AvailablePower:
    """Readings of available power (n,): moments, energy past zero, and the figure in its unit.

    A display shows either kW or % of full power, so one of the two bands is NaN in each row.
    """

    t_ms: IntArray
    energy_kwh: FloatArray
    power_kw: Band
    share_pct: Band


def available_power(run: Run, zero: Moment | None, readings: list[TimedReading]) -> AvailablePower:
    """What the display showed, in order of time; energy is NaN where it isn't known."""
    own = sorted(
        (timed for timed in readings if timed.reading.quantity == "power_available"),
        key=lambda timed: timed.moment.t_s,
    )
    past = run.energy_between(zero, [timed.moment for timed in own]) if zero else [None] * len(own)
    return AvailablePower(
        t_ms=np.array([round(timed.moment.t_s * 1000) for timed in own], dtype=np.int64),
        energy_kwh=np.array([np.nan if figure is None else figure.value for figure in past]),
        power_kw=_band(own, "kW"),
        share_pct=_band(own, "%"),
    )


def _band(own: list[TimedReading], unit: str) -> Band:
    bounds = np.array(
        [
            interval_of(timed.reading) if timed.reading.unit == unit else (np.nan, np.nan)
            for timed in own
        ]
    ).reshape(-1, 2)
    return Band(bounds.mean(axis=1), bounds[:, 0], bounds[:, 1])


def compare_available(shown: AvailablePower, limits: tuple[Limit, ...]) -> list[Finding]:
    """The display's kW against ours at each stretch of full throttle that its readings enclose."""
    known = np.isfinite(shown.power_kw.value)
    if np.count_nonzero(known) < 2:
        return []
    t_ms = shown.t_ms[known]
    low, high = shown.power_kw.low[known], shown.power_kw.high[known]
    rows = []
    for limit in limits:
        at_ms = (limit.from_ms + limit.to_ms) / 2
        after = int(np.searchsorted(t_ms, at_ms))
        if limit.pack_kw is None or limit.wheels_kw is None or not 0 < after < t_ms.size:
            continue
        around = slice(after - 1, after + 1)
        display = quantity.bounds(float(np.min(low[around])), float(np.max(high[around])))
        if display is not None:
            rows.append((display, limit.pack_kw, limit.wheels_kw))
    return [_compared(rows)] if rows else []


def _compared(rows: list[tuple[Quantity, Quantity, Quantity]]) -> Finding:
    verdicts = Counter(_verdict(*row) for row in rows)
    said = "; ".join(
        verdict if len(rows) == 1 else f"at {count} of {len(rows)} stretches {verdict}"
        for verdict, count in verdicts.most_common()
    )
    display, pack, wheels = rows[0]
    return Finding(
        "note",
        "power_available_compared",
        f"Power available by the display, against ours when floored: {said}. At the first it "
        f"allowed {display.low:.0f} to {display.high:.0f} kW; we find {pack.value:.1f} kW from the "
        f"pack ({pack.low:.1f} to {pack.high:.1f}) and {wheels.value:.1f} kW at the wheels "
        f"({wheels.low:.1f} to {wheels.high:.1f}).",
        "readings of power_available",
    )


def _verdict(display: Quantity, pack: Quantity, wheels: Quantity) -> str:
    """Where a display's figure is taken, by which of our intervals it agrees with."""
    as_pack, as_wheels = _allow(display, pack), _allow(display, wheels)
    if as_pack and as_wheels:
        return "it can be power from the pack or at the wheels"
    if as_pack:
        return "it is power from the pack"
    if as_wheels:
        return "it is power at the wheels"
    if display.low > pack.high:
        return "it allowed more than was taken, so something else held the speed down"
    return "it is less than was taken"


def _allow(one: Quantity, other: Quantity) -> bool:
    return one.low <= other.high and other.low <= one.high
