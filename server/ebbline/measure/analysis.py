"""One session's evidence to one result: the steps in order, each giving its part and findings."""

from __future__ import annotations

from ebbline.measure.balance import balance_of
from ebbline.measure.consumption import consumption_of
from ebbline.measure.curves import curves_of
from ebbline.measure.departures import departures_of
from ebbline.measure.distance import distance_of
from ebbline.measure.energy.estimate import energy_of
from ebbline.measure.findings import Findings
from ebbline.measure.full_throttle.available import available_power, compare_available
from ebbline.measure.full_throttle.grade import grades_of
from ebbline.measure.full_throttle.held_speed import held_speed_of
from ebbline.measure.full_throttle.limits import limits_of
from ebbline.measure.hanging import hanging_of
from ebbline.measure.lap_table import lap_entries
from ebbline.measure.laps.course import compare_laps
from ebbline.measure.motion.motion import motion_of
from ebbline.measure.pack_voltage import pack_voltage_of
from ebbline.measure.power_log.choice import choose_log
from ebbline.measure.power_log.comparison import logged_energy
from ebbline.measure.recharge.recharge import recharge_of
from ebbline.measure.reserve.ladder import entries_of
from ebbline.measure.reserve.reserve import reserve_of, zero_of
from ebbline.measure.reserve.shown import shown_of
from ebbline.measure.reserve.span import find_span
from ebbline.measure.run import Run
from ebbline.measure.time.devices import clocks_of, merged
from ebbline.measure.time.timed_records import standing_records, timed_events, timed_readings
from ebbline.measure.track.drive_match import told_of_drive
from ebbline.measure.track.gap_taps import heed_taps
from ebbline.measure.track.leader import track_of
from ebbline.measure.trip_meter.comparison import compare_trip
from ebbline.measure.trip_meter.gap_readings import narrow_gaps
from ebbline.measure.trip_meter.late_readings import shift_late_readings
from ebbline.records.curves import Analysis
from ebbline.records.evidence import Session
from ebbline.records.result import Result


def analyze(session: Session) -> Analysis:
    """Everything the evidence of one session says, with its uncertainty. Pure and deterministic.

    What can't be known is None in the result, with the reason in its findings.
    """
    protocol, course, vehicle = session.protocol, session.course, session.vehicle
    findings = Findings()
    crumbs = merged(session.breadcrumbs)
    clocks = findings.of(clocks_of(session, crumbs))
    records = findings.of(standing_records(session, clocks))
    told = told_of_drive(
        timed_events(records, clocks, protocol), timed_readings(records, clocks, protocol)
    )
    track, clocks = findings.of(track_of(session, crumbs, clocks, told))
    events = timed_events(records, clocks, protocol)
    readings = timed_readings(records, clocks, protocol)
    track = heed_taps(track, events)
    readings = findings.of(shift_late_readings(track, readings, events, protocol))
    before_meter = track
    track = findings.of(narrow_gaps(track, readings, events))
    laps = findings.of(compare_laps(track, course))
    # the meter's own scale by a track that does not lean on it
    meter = findings.of(compare_trip(before_meter, laps.ruler, readings, events))
    motion = findings.of(motion_of(track, laps.ruler, events, readings))
    energy = findings.of(energy_of(motion, meter, vehicle, events, readings))

    run = Run(events, motion, energy)
    span = findings.of(find_span(events, protocol))
    reserve = reserve_of(run, span, vehicle.pack)
    grade_at = grades_of(track, crumbs, clocks, course)
    limits = findings.of(limits_of(run, span.zero, vehicle, grade_at))
    available = available_power(run, span.zero, readings)
    findings += compare_available(available, limits)
    held = findings.of(held_speed_of(run, span.zero, limits, protocol))
    findings += departures_of(run, readings, protocol)
    charge = findings.of(recharge_of(events, readings, vehicle.pack, protocol))
    balance = findings.of(balance_of(run, span, charge.figures))
    ladder = findings.of(entries_of(run, span))
    log = findings.of(choose_log(session.logs, clocks, span, session.excluded))
    logged = findings.of(logged_energy(log, span, reserve, readings, events))
    findings += hanging_of(run, span, reserve)

    result = Result(
        session_id=session.id,
        distance=distance_of(motion),
        laps=lap_entries(run, laps.found),
        lap_check=laps.check,
        trip_check=meter.check(),
        zero=zero_of(run, span, protocol),
        reserve=reserve,
        timeline=ladder,
        limits=limits,
        recharge=charge.figures,
        consumption=consumption_of(run, reserve, laps.found),
        balance=balance,
        findings=tuple(findings),
        power_log=logged,
        held_speed=held,
        shown=shown_of(run, span, readings),
        pack_voltage=pack_voltage_of(events, span, readings, charge.figures, vehicle.pack),
    )
    return Analysis(result, curves_of(run, span.zero, charge.curve, log, limits, available))
