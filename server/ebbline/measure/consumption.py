"""Energy per distance, past zero and by speed; and the balance of what came out and went in."""

from __future__ import annotations

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.clock import Moment
from ebbline.measure.laps import Laps
from ebbline.measure.reserve import Span
from ebbline.measure.run import Run
from ebbline.records import (
    Balance,
    Consumption,
    Finding,
    Quantity,
    Recharge,
    Reserve,
    SpeedConsumption,
)

_STRETCHES = 5  # on a course without laps the run is cut in so many equal lengths
_LEAST_STRETCH_M = 800.0


def consumption_of(run: Run, reserve: Reserve, laps: Laps | None) -> Consumption:
    """Past zero as a whole, and over each lap or equal stretch with its mean speed."""
    per_m = quantity.ratio(reserve.energy_kwh, reserve.distance_m)
    return Consumption(quantity.scaled(per_m, 1e6), _by_speed(run, laps))


def balance_of(
    run: Run, span: Span, recharge: Recharge | None
) -> tuple[Balance | None, list[Finding]]:
    """What was driven below 0 % against what was recharged below it; None without a recharge.

    Both count from the display's 0 %, whatever zero the protocol takes. What ran on after the
    drive, until the contactors opened, came out of the pack too: it counts in whether the two
    agree.
    """
    if recharge is None:
        return None, []
    zero, recharged = run.first("zero_soc"), recharge.below_zero_kwh
    if zero is None or span.end is None or span.end.moment.t_s <= zero.moment.t_s:
        return Balance(None, recharged, None), []
    driven = quantity.not_negative(run.energy_between(zero.moment, [span.end.moment])[0])
    if driven is None or recharged is None:
        return Balance(driven, recharged, None), []
    agrees = quantity.overlap(_drawn_in_all(run, zero.moment, span.end.moment, driven), recharged)
    findings = []
    if not agrees:
        findings.append(
            Finding(
                "doubt",
                "balance_open",
                f"Driven below 0 %: {driven.value:.3f} kWh; recharged below 0 %: "
                f"{recharged.value:.3f} kWh. The difference is more than both doubts allow: check "
                f"the charging efficiency, the first displayed per cent, and what the car used "
                f"while parked.",
                "balance",
            )
        )
    return Balance(driven, recharged, agrees), findings


def _drawn_in_all(run: Run, zero: Moment, end: Moment, driven: Quantity) -> Quantity:
    """Energy from zero until the contactors opened after the end; that of the drive if unknown."""
    opened = run.first("contactors_open", end.t_s)
    if opened is None:
        return driven
    return run.energy_between(zero, [opened.moment])[0] or driven


def _by_speed(run: Run, laps: Laps | None) -> tuple[SpeedConsumption, ...]:
    if run.track is None or run.energy is None:
        return ()
    if laps is not None and laps.gate_s.size >= 2:
        edges_s = laps.gate_s
    else:
        total_m = float(run.track.along_m[-1])
        count = min(_STRETCHES, int(total_m // _LEAST_STRETCH_M))
        if count < 1:
            return ()
        marks_m = np.linspace(0, total_m, count + 1)
        edges_s = np.interp(marks_m, run.track.along_m, run.track.t_s)
    moments = [Moment(float(edge_s), 0.0) for edge_s in edges_s]
    placed = run.distances(moments)
    if placed is None:
        return ()
    stretches = []
    for k in range(len(moments) - 1):
        length = placed.between(k, k + 1)
        energy = run.energy_between(moments[k], [moments[k + 1]])[0]
        per_m = quantity.ratio(energy, length)
        duration_s = moments[k + 1].t_s - moments[k].t_s
        speed = quantity.scaled(length, 1 / duration_s)
        per_km = quantity.scaled(per_m, 1e6)
        if speed is None or per_km is None or not _told(energy):
            continue
        stretches.append(
            SpeedConsumption(
                round(moments[k].t_s * 1000), round(moments[k + 1].t_s * 1000), speed, per_km
            )
        )
    return tuple(stretches)


def _told(energy: Quantity | None) -> bool:
    """Whether the readings say anything of this stretch beyond the expectation."""
    return energy is not None and energy.value > 0 and energy.low > 0
