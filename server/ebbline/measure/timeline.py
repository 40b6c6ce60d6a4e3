"""One session's evidence to one result: this puts the parts together, and measures nothing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache

import numpy as np

from ebbline import __version__
from ebbline.measure import quantity
from ebbline.measure.clock import DeviceClock, Moment, moment_of_reading, moment_of_tap
from ebbline.measure.consumption import balance_of, consumption_of
from ebbline.measure.corrections import current_events, current_readings
from ebbline.measure.curves import curves_of
from ebbline.measure.departures import departures_of
from ebbline.measure.energy import EnergyCurve, Supply, expected_energy, fit_energy
from ebbline.measure.evidence import TimedReading, energy_bounds, settle_contradictions
from ebbline.measure.fixes import clocks_of, merged
from ebbline.measure.gaps import gaps_of
from ebbline.measure.grade import altitudes_of, grade_at
from ebbline.measure.ladder import entries_of
from ebbline.measure.laps import Laps, check_laps, disagreement, find_laps, lap_entries, ruler_of
from ebbline.measure.limits import GradeAt, limits_of
from ebbline.measure.naming import stamped
from ebbline.measure.noting import as_late_as_they_were
from ebbline.measure.power_log import choose_log, logged_energy
from ebbline.measure.recharge import recharge_of
from ebbline.measure.reserve import find_span, reserve_of, zero_of
from ebbline.measure.ruler import Ruler, distances_at
from ebbline.measure.run import Run, TimedEvent
from ebbline.measure.track import Track
from ebbline.measure.tracks import track_of
from ebbline.measure.tripmeter import TripMeter, compare_trip
from ebbline.records import (
    USUAL_TAP_DELAY,
    Analysis,
    Breadcrumbs,
    Course,
    Distance,
    Event,
    Finding,
    LapCheck,
    Quantity,
    Reading,
    Result,
    Session,
)

ENGINE = f"ebbline {__version__}"


def analyze(session: Session) -> Analysis:
    """Everything the evidence of one session says, with its doubt. Pure and deterministic.

    What can't be known is None in the result, with the reason in its findings.
    """
    crumbs = merged(session.breadcrumbs)
    clocks, findings = clocks_of(session, crumbs)
    events, said = current_events(session.events)
    findings += said
    readings, said = current_readings(session.readings)
    findings += said
    if session.protocol.tap_delay is None and events:
        findings.append(_delay_assumed())

    findings += _ambiguous([*events, *readings], clocks)
    track, clocks, said = track_of(session, crumbs, clocks)
    findings += said
    timed_events = _timed_events(session, events, clocks)
    timed_readings = [
        TimedReading(reading, moment_of_reading(reading, clocks[reading.device], session.protocol))
        for reading in readings
    ]
    if session.protocol.reading_delay is None:
        timed_readings, said = as_late_as_they_were(track, timed_readings, _resets(timed_events))
        findings += said
    laps, lap_check, ruler, said = _laps(track, session)
    findings += said
    meter, energy, said = _energy(session, track, ruler, timed_events, timed_readings)
    findings += said

    run = Run(timed_events, track, ruler, energy)
    span, said = find_span(run, session.protocol)
    findings += said
    zero = span.zero
    reserve = reserve_of(run, span, session.vehicle.pack)
    grade = _grades(track, crumbs, clocks, session.course)
    limits, said = limits_of(run, zero, session.vehicle, grade)
    findings += said
    findings += departures_of(run, timed_readings, session.protocol)
    recharge, charge, said = recharge_of(
        run, timed_readings, session.vehicle.pack, session.protocol
    )
    findings += said
    balance, said = balance_of(run, span, recharge)
    findings += said
    timeline, said = entries_of(run, span)
    findings += said
    log, said = choose_log(session.logs, clocks, span)
    findings += said
    logged, said = logged_energy(log, span, reserve, timed_readings, _resets(timed_events))
    findings += said

    result = Result(
        session_id=session.id,
        engine=ENGINE,
        distance=_distance(track, ruler),
        laps=lap_entries(run, laps),
        lap_check=lap_check,
        trip_check=meter.check(),
        zero=zero_of(run, span, session.protocol),
        reserve=reserve,
        timeline=timeline,
        limits=limits,
        recharge=recharge,
        consumption=consumption_of(run, reserve, laps),
        balance=balance,
        findings=tuple(findings),
        power_log=logged,
    )
    return Analysis(result, curves_of(run, zero, charge, log, limits))


def _grades(
    track: Track | None,
    crumbs: dict[str, Breadcrumbs],
    clocks: dict[str, DeviceClock],
    course: Course,
) -> GradeAt:
    altitudes = cache(lambda: altitudes_of(crumbs, clocks))  # once, if it is asked for

    def grade(from_s: float, to_s: float) -> Quantity | None:
        if track is None:
            return None
        return grade_at(track, altitudes(), course, from_s, to_s)

    return grade


def _timed_events(
    session: Session, events: list[Event], clocks: dict[str, DeviceClock]
) -> tuple[TimedEvent, ...]:
    timed = [
        TimedEvent(event, moment_of_tap(event, clocks[event.device], session.protocol))
        for event in events
    ]
    return tuple(sorted(timed, key=lambda entry: entry.moment.t_s))


def _laps(
    track: Track | None, session: Session
) -> tuple[Laps | None, LapCheck | None, Ruler | None, list[Finding]]:
    if track is None:
        return None, None, None, []
    laps, findings = find_laps(track, session.course)
    check = check_laps(laps, session.course)
    findings += disagreement(check)
    return laps, check, ruler_of(laps, session.course), findings


def _energy(
    session: Session,
    track: Track | None,
    ruler: Ruler | None,
    events: tuple[TimedEvent, ...],
    readings: list[TimedReading],
) -> tuple[TripMeter, EnergyCurve | None, list[Finding]]:
    """The trip meter's ratio and the energy curve that its readings bound."""
    if track is None:
        return TripMeter(), None, []
    resets = _resets(events)
    meter, findings = compare_trip(track, ruler, readings, resets)

    def car_distance_m(from_s: float, to_s: float) -> tuple[float, float]:
        found = distances_at(track, np.array([from_s, to_s]), ruler)
        ours_m, sd_m = found.between(0, 1)
        return ours_m * meter.ratio, float(np.hypot(sd_m, ours_m * meter.sd))

    evidence = energy_bounds(readings, resets, float(track.t_s[0]), car_distance_m)
    expected = expected_energy(track, session.vehicle.road_load, _supply(events))
    evidence, said = settle_contradictions(
        evidence, lambda t_s: float(np.interp(t_s, track.t_s, expected.work_kwh))
    )
    findings += said
    curve = fit_energy(track, evidence, expected)
    if curve is None:
        findings.append(
            Finding(
                "note",
                "no_energy_readings",
                "No reading of trip energy bounds the energy used, so it isn't given.",
                "readings",
            )
        )
        return meter, None, findings
    findings += _beyond_readings(curve, events)
    return meter, curve, findings


def _resets(events: tuple[TimedEvent, ...]) -> list[Moment]:
    return [timed.moment for timed in events if timed.event.kind == "trip_reset"]


def _ambiguous(records: Sequence[Event | Reading], clocks: dict[str, DeviceClock]) -> list[Finding]:
    """One finding for all taps and readings at times their clock went over twice."""
    doubtful = [r for r in records if clocks[r.device].ambiguity_s(r.t_ms, r.page) > 0]
    if not doubtful:
        return []
    return [
        Finding(
            "error",
            "moments_ambiguous",
            f"A clock was set back while recording, and {len(doubtful)} taps or readings bear "
            f"times that it showed twice: {', '.join(stamped(record) for record in doubtful)}. "
            f"They are placed midway, with both times in their intervals; correct them to the "
            f"right one.",
            f"events and readings {', '.join(record.id for record in doubtful)}",
        )
    ]


def _supply(events: tuple[TimedEvent, ...]) -> Supply:
    """Propulsion ends where noted last; auxiliaries with the contactors, else at standstill."""

    def latest(kind: str) -> float | None:
        return max((e.moment.t_s for e in events if e.event.kind == kind), default=None)

    off_s = latest("propulsion_off")
    if off_s is None:
        return Supply()
    idle_s = latest("contactors_open") or latest("standstill") or math.inf
    return Supply(off_s, max(off_s, idle_s))


def _beyond_readings(curve: EnergyCurve, events: tuple[TimedEvent, ...]) -> list[Finding]:
    """Say how many events lie where no reading bounds the energy on one side."""
    moments = [timed.moment for timed in events if timed.event.kind not in ("plug_in", "note")]
    on_track = [m for m in moments if m.t_s <= curve.track.t_s[-1]]
    early = sum(m.t_s < curve.first_reading_s for m in on_track)
    late = sum(
        m.t_s > curve.last_reading_s and float(curve.power_kw(np.array([m.t_s]))[0]) > 0
        for m in on_track
    )
    told = [
        f"{count} {'event lies' if count == 1 else 'events lie'} {where}"
        for count, where in (
            (early, "before the first energy reading"),
            (late, "after the last energy reading"),
        )
        if count
    ]
    if not told:
        return []
    return [
        Finding(
            "note",
            "energy_extrapolated",
            f"{' and '.join(told)}; energy there is extrapolated and its interval grows.",
            "readings of trip_energy",
        )
    ]


def _distance(track: Track | None, ruler: Ruler | None) -> Distance:
    if track is None:
        return Distance(None, None, "no positions")
    ends = distances_at(track, np.array([track.t_s[0], track.t_s[-1]]), ruler)
    total_m, sd_m = ends.between(0, 1)
    source = "positions and Doppler speeds" if track.uses_doppler else "positions"
    method = f"smoothed {source}"
    if ruler is not None:
        method += f", {ruler.lap_of.shape[0]} {ruler.source} laps as ruler"
    return Distance(
        quantity.normal(total_m, sd_m, floor=0.0), track.polyline_m, method, gaps_of(track)
    )


def _delay_assumed() -> Finding:
    return Finding(
        "note",
        "tap_delay_assumed",
        f"The protocol states no tap delay; {USUAL_TAP_DELAY.mean_s:g} s with a standard deviation "
        f"of {USUAL_TAP_DELAY.sd_s:g} s is assumed.",
        "protocol.tap_delay_s",
    )
