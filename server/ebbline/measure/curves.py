"""The lines behind the figures, for drawing."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from ebbline.measure import quantity
from ebbline.measure.full_throttle.available import AvailablePower
from ebbline.measure.full_throttle.fade import fade_of
from ebbline.measure.motion.motion import Motion
from ebbline.measure.power_log.curve import LogCurve
from ebbline.measure.recharge.curve import ChargeCurve
from ebbline.measure.run import LEAST_SD_MPS, Run
from ebbline.measure.time.moments import Moment
from ebbline.measure.track.covariance import speed_sd
from ebbline.records.arrays import BoolArray, FloatArray, IntArray
from ebbline.records.curves import Band, Curves
from ebbline.records.result import Limit, Quantity

_ANCHORS = 60  # the uncertainty is computed here and interpolated between
_CHARGE_POINTS = 240
_ENERGY_POINTS = 4000
_GAP_POINTS = 9  # within each gap, so that what is read there is the gap's own


def curves_of(
    run: Run,
    zero: Moment | None,
    charge: ChargeCurve | None,
    log: LogCurve | None,
    limits: tuple[Limit, ...],
    available: AvailablePower,
) -> Curves:
    """Every curve of a session; empty where there is no track, charge, log or full throttle."""
    fade_energy, fade_power = fade_of(limits)
    curves = dataclasses.replace(
        _of_run(run, zero, charge),
        fade_energy_kwh=fade_energy,
        fade_power_kw=fade_power,
        available_t_ms=available.t_ms,
        available_energy_kwh=available.energy_kwh,
        available_power_kw=available.power_kw,
        available_share_pct=available.share_pct,
        **_shown(charge),
    )
    if log is None:
        return curves
    log_t_ms, log_energy = log.past(zero)
    return dataclasses.replace(curves, log_t_ms=log_t_ms, log_energy_kwh=log_energy)


def _of_run(run: Run, zero: Moment | None, charge: ChargeCurve | None) -> Curves:
    charge_t_ms, charge_energy, charge_power = _charge(charge)
    motion = run.motion
    t_s = np.empty(0) if motion is None else _moments(motion)
    lat, lon = _places(motion, t_s)
    distance = past_zero = _unknown(t_s.size)
    if motion is not None and motion.tells_distance:
        distance, past_zero = _distance(run, motion, zero, t_s)
    return Curves(
        t_ms=np.round(t_s * 1000).astype(np.int64),
        lat=lat,
        lon=lon,
        speed_mps=_speed(motion, t_s),
        distance_m=distance,
        past_zero_m=past_zero,
        energy_past_zero_kwh=_energy(run, zero, t_s),
        in_gap=np.empty(0, dtype=bool) if motion is None else _in_gap(motion, t_s),
        recharge_t_ms=charge_t_ms,
        recharge_energy_kwh=charge_energy,
        recharge_power_kw=charge_power,
    )


def _moments(motion: Motion) -> FloatArray:
    """The motion's own moments, and some within each gap."""
    return np.union1d(motion.t_s, _within(motion.t_s, np.flatnonzero(motion.gap)))


def _within(t_s: FloatArray, steps: IntArray) -> FloatArray:
    """Moments evenly spread within each of k steps, (k * _GAP_POINTS,)."""
    share = np.arange(1, _GAP_POINTS + 1) / (_GAP_POINTS + 1)
    inner_s: FloatArray = t_s[steps, np.newaxis] + np.diff(t_s)[steps, np.newaxis] * share
    return inner_s.ravel()


def _places(motion: Motion | None, t_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Latitude and longitude (n,) at moments; NaN where there are no positions."""
    lat, lon = np.full(t_s.size, np.nan), np.full(t_s.size, np.nan)
    if motion is not None and motion.track is not None:
        track = motion.track
        fixes = np.searchsorted(t_s, track.t_s)
        lat[fixes], lon[fixes] = track.plane.inverse(*track.position_m.T)
    return lat, lon


def _speed(motion: Motion | None, t_s: FloatArray) -> Band:
    """Speed (n,) as positions tell it; the trip meter tells of none."""
    band = _unknown(t_s.size)
    if motion is None or motion.track is None:
        return band
    track = motion.track
    on_track = (t_s >= track.t_s[0]) & (t_s <= track.t_s[-1])
    anchor_s = _anchors(track.t_s, track.gap)
    sd = np.maximum(speed_sd(track, anchor_s), LEAST_SD_MPS)
    known = _band(track.speed_at(t_s[on_track]), np.interp(t_s[on_track], anchor_s, sd), floor=0.0)
    band.value[on_track], band.low[on_track], band.high[on_track] = (
        known.value,
        known.low,
        known.high,
    )
    return band


def _anchors(t_s: FloatArray, gap: BoolArray) -> FloatArray:
    """Moments at which uncertainties are worked out: evenly spread, around and within the longest
    gaps.
    """
    even_s = np.linspace(t_s[0], t_s[-1], _ANCHORS)
    gaps = np.flatnonzero(gap)
    longest = gaps[np.argsort(-np.diff(t_s)[gaps], kind="stable")[: _ANCHORS // 4]]
    return np.unique(
        np.concatenate([even_s, t_s[longest], t_s[longest + 1], _within(t_s, longest)])
    )


def _band(value: FloatArray, sd: FloatArray, floor: float = -np.inf) -> Band:
    half = quantity.COVERAGE_FACTOR * sd
    return Band(value, np.maximum(value - half, floor), value + half)


def _distance(run: Run, motion: Motion, zero: Moment | None, t_s: FloatArray) -> tuple[Band, Band]:
    """Distance since the first known moment and past zero, at moments (n,) along the motion."""
    anchor_s = _anchors(motion.t_s, motion.gap)
    anchor_s = anchor_s[motion.covers(anchor_s)]
    moments = [Moment(float(at), 0.0) for at in anchor_s]
    placed = run.distances(moments if zero is None else [zero, *moments])
    if placed is None or anchor_s.size == 0:
        return _unknown(t_s.size), _unknown(t_s.size)
    first = 0 if zero is None else 1
    found = placed.distances
    shift_m = found.along_m[first:] - motion.along_at(anchor_s)
    along_m = motion.along_at(t_s) + np.interp(t_s, anchor_s, shift_m)
    whole = [found.since_start(k) for k in range(first, first + anchor_s.size)]
    distance = _around(t_s, along_m, anchor_s, whole, floor=0.0)
    if zero is None or not np.isfinite(found.along_m[0]):
        return distance, _unknown(t_s.size)
    since = [found.interval(0, k + 1, placed.timing_m[0]) for k in range(anchor_s.size)]
    return distance, _around(t_s, along_m - found.along_m[0], anchor_s, since)


def _around(
    t_s: FloatArray,
    value: FloatArray,
    anchor_s: FloatArray,
    at_anchors: list[Quantity | None],
    floor: float = -np.inf,
) -> Band:
    """A curve (n,) with the intervals found at its anchors (k,), interpolated between them."""
    known = [k for k, figure in enumerate(at_anchors) if figure is not None]
    figures = [figure for figure in at_anchors if figure is not None]
    below, above = (
        np.interp(t_s, anchor_s[known], np.array(ends))
        for ends in (
            [figure.value - figure.low for figure in figures],
            [figure.high - figure.value for figure in figures],
        )
    )
    return Band(value, np.maximum(value - below, floor), value + above)


def _energy(run: Run, zero: Moment | None, t_s: FloatArray) -> Band:
    if run.energy is None or zero is None:
        return _unknown(t_s.size)
    # Beside the expected work, which follows every fix, mean and uncertainty bend at readings and
    # in gaps only.
    motion = run.energy.motion
    work_kwh = run.energy.fitted_work_kwh(t_s)
    even = np.linspace(0, t_s.size - 1, _ENERGY_POINTS).astype(int)
    inner_s = _within(motion.t_s, np.flatnonzero(motion.gap))
    at = np.union1d(even, np.searchsorted(t_s, inner_s))
    mean, sd = run.energy.since(zero, t_s[at])
    mean = work_kwh + np.interp(t_s, t_s[at], mean - work_kwh[at])
    sd = np.interp(t_s, t_s[at], sd)
    anchor_s = _anchors(motion.t_s, motion.gap)
    alone_kwh = run.energy.alone_kwh([zero, *(Moment(float(t), 0.0) for t in anchor_s)])
    ends_kwh = np.hypot(alone_kwh[0], np.interp(t_s, anchor_s, alone_kwh[1:]))
    return _band(mean, np.hypot(sd, ends_kwh))


def _charge(charge: ChargeCurve | None) -> tuple[np.ndarray, Band, Band]:
    if charge is None or charge.end_s <= charge.plug_in_s:
        nothing = Band.empty()
        return np.empty(0, dtype=np.int64), nothing, nothing
    even_s = np.linspace(charge.plug_in_s, charge.end_s, _CHARGE_POINTS)
    own_s = np.concatenate([charge.power.t_s, charge.counter.t_s])
    t_s = np.unique(np.concatenate([even_s, own_s[own_s <= charge.end_s]]))
    mean, sd = charge.energy(np.full(t_s.size, charge.plug_in_s), t_s)
    return (
        np.round(t_s * 1000).astype(np.int64),
        _band(mean, sd, floor=0.0),
        charge.power_band(t_s),
    )


def _shown(charge: ChargeCurve | None) -> dict[str, Any]:
    """The readings behind the recharge's curve, to be drawn on it."""
    if charge is None:
        return {}
    power, counter = charge.power, charge.counter
    return {
        "shown_t_ms": np.round(power.t_s * 1000).astype(np.int64),
        "shown_power_kw": Band(power.middle, power.low, power.high),
        "counted_t_ms": np.round(counter.t_s * 1000).astype(np.int64),
        "counted_energy_kwh": Band(counter.middle, counter.low, counter.high),
    }


def _in_gap(motion: Motion, t_s: FloatArray) -> BoolArray:
    """Which moments (n,) lie in a gap; a fix does when the step to the next one is bridged."""
    bridged = np.concatenate([motion.gap | motion.unseen, [False]])
    before = np.searchsorted(motion.t_s, t_s, side="right") - 1
    return np.asarray(bridged[before])


def _unknown(n: int) -> Band:
    return Band(*(np.full(n, np.nan) for _ in range(3)))
