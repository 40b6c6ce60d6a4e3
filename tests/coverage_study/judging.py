"""One session's figures against its truth."""

from __future__ import annotations

import math
import re
import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from compare import Row, rows
from scipy.interpolate import CubicHermiteSpline

from ebbline.exchange.result_document import to_document
from ebbline.exchange.session_file import to_session
from ebbline.measure.analysis import analyze
from ebbline.records.curves import Analysis

from .evidence import Simulated, simulate
from .plain_methods import lines_kwh, polyline_m, speeds_m
from .setting import Setting
from .world import PARKED_S, START_MS, at_s, rise_of

_EDGE_S = 2.0  # a track that ends so much too early still counts as whole
_SETTLED_S = 15.0  # after standstill, before the parked minutes are counted


@dataclass(frozen=True, slots=True)
class Judged:
    """One figure of one session: inside is None where Ebbline says it can't know."""

    figure: str
    inside: bool | None
    error: float
    width: float


@dataclass(frozen=True, slots=True)
class Outcome:
    """One session's figures. Distances from zero to the end of propulsion, errors in %.

    ``reserve_pct``: the result document's, its ends being taps. ``track_pct``, ``polyline_pct`` and
    ``speeds_pct``: Ebbline's track, the raw polyline and the trapezoid of the shown speeds, all
    between the true moments, so without the taps' share. ``energy_kwh`` and ``lines_kwh``: errors
    of the energy since zero at the true moments of the events, by Ebbline's curve and by straight
    lines between the display's figures, where both are known.
    """

    number: int
    reserve_pct: float
    track_pct: float
    polyline_pct: float
    speeds_pct: float
    energy_kwh: tuple[float, ...]
    lines_kwh: tuple[float, ...]
    parked_m: float
    judged: tuple[Judged, ...]
    codes: tuple[str, ...]
    analysis_s: float


def judge(setting: Setting, number: int) -> Outcome:
    """Simulate, analyse and compare one session."""
    simulated = simulate(setting, number)
    session = to_session(simulated.document)
    began_s = time.perf_counter()
    analysis = analyze(session)
    took_s = time.perf_counter() - began_s
    document = to_document(analysis.result, "")
    truth_m = float(simulated.truth["reserve"]["distance_m"])
    drive = simulated.world.drive
    true_s = np.array([at_s(drive, "zero_soc"), at_s(drive, "propulsion_off")])
    reserve = document["reserve"]["distance_m"]
    still_s = at_s(drive, "standstill") + _SETTLED_S
    by_curve_kwh, by_lines_kwh = _energy_errors(analysis, simulated)

    def off_pct(measured_m: float) -> float:
        return 100 * (measured_m / truth_m - 1)

    return Outcome(
        number=number,
        reserve_pct=float("nan") if reserve is None else off_pct(reserve["value"]),
        track_pct=off_pct(_driven_m(analysis, true_s)),
        polyline_pct=off_pct(polyline_m(simulated.fixes, true_s)),
        speeds_pct=off_pct(speeds_m(simulated.fixes, true_s)),
        energy_kwh=by_curve_kwh,
        lines_kwh=by_lines_kwh,
        parked_m=_driven_m(analysis, np.array([still_s, still_s + PARKED_S])),
        judged=tuple(judged_rows(document, simulated)),
        codes=tuple(sorted({finding.code for finding in analysis.result.findings})),
        analysis_s=took_s,
    )


def judged_rows(document: dict[str, Any], simulated: Simulated) -> Iterator[Judged]:
    """Every figure of a result document that has a truth, under its name without its place."""
    truth = simulated.truth
    compared = rows(document, truth)
    compared += _lap_ratio(document, simulated)
    compared += by_speed(document, truth["run"])
    compared += _at_the_wheels(document, simulated)
    compared += _first_end(document, truth)
    compared += _bounds_of_the_charge(document, simulated)
    for row in compared:
        if not _by_definition(row):
            yield Judged(
                figure=re.sub(r"\[[^]]*\]", "", row.figure),
                inside=row.inside,
                error=float("nan") if row.value is None else row.value - row.truth,
                width=float("nan") if row.low is None or row.high is None else row.high - row.low,
            )


def _by_definition(row: Row) -> bool:
    """Nothing past itself and nothing left after the end: true without any measuring."""
    return row.truth == 0 and row.low == 0 == row.value


def _lap_ratio(document: dict[str, Any], simulated: Simulated) -> list[Row]:
    check = document["lap_check"]
    if check is None:
        return []
    ratio = check["ratio"]
    true = simulated.world.course.length_m / check["surveyed_m"]
    return [Row("lap_check.ratio", ratio["value"], ratio["low"], ratio["high"], true)]


def by_speed(document: dict[str, Any], run: dict[str, Any]) -> list[Row]:
    """Each stretch against the truth between the same moments."""
    found = []
    for stretch in document["consumption"]["by_speed"]:
        ends_ms = [stretch["from_ms"], stretch["to_ms"]]
        metres = float(np.diff(np.interp(ends_ms, run["t_ms"], run["distance_m"]))[0])
        kwh = float(np.diff(np.interp(ends_ms, run["t_ms"], run["energy_kwh"]))[0])
        true = {"speed_mps": metres / ((ends_ms[1] - ends_ms[0]) / 1000)}
        if metres > 0:  # a car that stood has no consumption by distance
            true["wh_per_km"] = 1e6 * kwh / metres
        for key, value in true.items():
            q = stretch[key]
            found.append(Row(f"consumption.by_speed.{key}", q["value"], q["low"], q["high"], value))
    return found


def _at_the_wheels(document: dict[str, Any], simulated: Simulated) -> list[Row]:
    """Grade and power of each settled stretch of full throttle, against the mean over it."""
    world, found = simulated.world, []
    for limit in document["limits"]:
        if limit["speed_mps"] is None or limit["wheels_kw"] is None or limit["grade_pct"] is None:
            continue
        between_s = (np.array([limit["from_ms"], limit["to_ms"]]) - START_MS) / 1000
        t_s = np.linspace(between_s[0], between_s[1], 50)
        rise = rise_of(world, simulated.number, world.drive.at(world.drive.s_m, t_s))
        speed_mps = world.drive.at(world.drive.v_mps, t_s)
        level_kw = np.mean([world.car.road_load_kw(float(v)) for v in speed_mps])
        climb_kw = np.mean(world.car.mass_kg * 9.80665 * rise * speed_mps) / 1000
        for key, true in (("grade_pct", 100 * np.mean(rise)), ("wheels_kw", level_kw + climb_kw)):
            q = limit[key]
            found.append(Row(f"limits.{key}", q["value"], q["low"], q["high"], float(true)))
    return found


def _first_end(document: dict[str, Any], truth: dict[str, Any]) -> list[Row]:
    """The reserve to the first of two ends, where there was a restart."""
    given = document["reserve"].get("first_end") or {}
    return [
        _row(f"reserve.first_end.{key}", given.get(key), true)
        for key, true in truth["reserve"].get("first_end", {}).items()
    ]


def _bounds_of_the_charge(document: dict[str, Any], simulated: Simulated) -> list[Row]:
    """What few readings still bound: the highest power, and when the trickle ended."""
    charge, given = simulated.world.charge, document["recharge"] or {}
    assert charge is not None
    true = {
        "highest_kw": float(np.max(charge.power_kw)),
        "trickle_end_s": charge.ramp_from_s - charge.start_s,
    }
    return [
        _row(f"recharge.{key}", given[key], value) for key, value in true.items() if key in given
    ]


def _row(figure: str, q: dict[str, Any] | None, true: float) -> Row:
    """A quantity beside its truth; one that says 'at least' holds whatever is more."""
    if q is None:
        return Row(figure, None, None, None, true)
    return Row(figure, q["value"], q["low"], math.inf if q["high"] is None else q["high"], true)


def _driven_m(analysis: Analysis, between_s: np.ndarray) -> float:
    """Ebbline's distance between two moments of the recording, NaN without a track."""
    curves = analysis.curves
    if curves.t_ms.size < 2:
        return float("nan")
    curve_s = (curves.t_ms - START_MS) / 1000
    kept = np.concatenate([[True], np.diff(curve_s) > 0]) & np.isfinite(curves.distance_m.value)
    if not np.all(np.isfinite(curves.speed_mps.value)):  # a trip meter tells of no speeds
        along_m = np.interp(
            between_s, curve_s[kept], curves.distance_m.value[kept], left=np.nan, right=np.nan
        )
        return float(np.diff(along_m)[0])
    line = CubicHermiteSpline(
        curve_s[kept], curves.distance_m.value[kept], curves.speed_mps.value[kept]
    )
    if between_s[0] < curve_s[0] - _EDGE_S or between_s[1] > curve_s[-1] + _EDGE_S:
        return float("nan")
    return float(np.diff(line(np.clip(between_s, curve_s[0], curve_s[-1])))[0])


def _energy_errors(
    analysis: Analysis, simulated: Simulated
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Errors of energy since zero at the drive's events: by the curve, and by straight lines."""
    world, curves = simulated.world, analysis.curves
    zero_s = at_s(world.drive, "zero_soc")
    end_s = float(world.drive.t_s[-1])
    event_s = [t_s for t_s in simulated.notes.true_s.values() if t_s <= end_s and t_s != zero_s]
    at = np.array([zero_s, *event_s])
    notes = simulated.notes
    lines = lines_kwh(notes.readings, notes.shown_s, world.trip_reset_s, at)
    ours = np.full(at.size, np.nan)
    if curves.t_ms.size >= 2:
        ours = np.interp(
            at, (curves.t_ms - START_MS) / 1000, curves.energy_past_zero_kwh.value,
            left=np.nan, right=np.nan,
        )  # fmt: skip
    true = world.drive.at(world.drive.drawn_kwh, at)
    errors = [(kwh - kwh[0] - (true - true[0]))[1:] for kwh in (ours, lines)]
    known = np.isfinite(errors[0]) & np.isfinite(errors[1])
    return tuple(errors[0][known].tolist()), tuple(errors[1][known].tolist())
