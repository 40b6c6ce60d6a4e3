"""A session's report: its sections and what is in them."""

from __future__ import annotations

from ebbline.exchange.sounds import is_sound
from ebbline.records.result import Quantity, Recharge
from ebbline.report import setting, story, tables
from ebbline.report.charts import pictures_of
from ebbline.report.content import (
    SEVERITIES,
    Block,
    Facts,
    Paragraphs,
    Picture,
    Remarks,
    Report,
    Section,
    Tone,
)
from ebbline.report.days import day_words
from ebbline.report.figures import UNKNOWN, Units, number
from ebbline.report.headlines import headlines_of, summary_of, tap_source
from ebbline.report.method import method
from ebbline.report.shown import shown_line
from ebbline.report.subject import Subject


def build(subject: Subject) -> Report:
    """The whole report of a session, as blocks."""
    recharge = subject.result.recharge
    sections = (
        _section("run", "The run", _pictures(subject, "run", "fade")),
        _section("ladder", "Ladder of events", [*_pictures(subject, "ladder"),
                                                tables.ladder(subject)]),
        _section("throttle", "Floored (full throttle)",
                 [tables.limits(subject), story.held_speed(subject)]),
        _section("recharge", "Waking up on the charger",
                 [*_pictures(subject, "recharge"),
                  _recharge_facts(subject) if recharge else story.voltages(subject),
                  tables.recharge_to(subject)]),
        _section("plan", "Departures from the plan", [setting.departures(subject)
                 or Paragraphs(("Nothing on record departs from the plan.",))]),
        _section("doubts", "Doubts and notes", [_findings(subject)]),
        _section("conditions", "Car, conditions and plan",
                 [Facts(setting.vehicle_facts(subject) + setting.condition_facts(subject)
                        + setting.protocol_facts(subject))]),
        _section("cautions", "Cautions", [Paragraphs(setting.CAUTIONS)]),
        _section("method", "How the figures were reached", [Paragraphs(method(subject))]),
        _section("laps", "Laps", [_lap_check(subject), tables.laps(subject)]),
        _section("sources", "Where the figures come from",
                 [Facts(_sources(subject)), tables.readings(subject)]),
    )  # fmt: skip
    return Report(
        title=subject.title,
        facts=_facts(subject),
        summary=summary_of(subject),
        shown=shown_line(subject),
        caution=setting.CAUTIONS[0],
        headlines=headlines_of(subject),
        sections=tuple(section for section in sections if section.blocks),
        foot=f"{subject.engine} \u00b7 evidence SHA-256 {subject.input_sha256[:16]}\u2026",
    )


def _section(anchor: str, title: str, blocks: list[Block | None]) -> Section:
    return Section(anchor, title, tuple(block for block in blocks if block is not None))


def _pictures(subject: Subject, *names: str) -> list[Block | None]:
    found = pictures_of(subject)
    return [
        Picture(name, found[name].alt(subject), found[name].caption)
        for name in names
        if name in found
    ]


def _facts(subject: Subject) -> tuple[str, ...]:
    session, started = subject.session, subject.started
    moment = subject.local(started.timestamp() * 1000) if started else None
    ambient = subject.part("conditions").get("ambient_c")
    parts = (
        session.vehicle.label if session.title else None,
        session.course.label,
        f"{day_words(moment)}, {moment:%H:%M} {subject.zone_name}" if moment else None,
        None if ambient is None else subject.units.ambient(ambient),
    )
    return tuple(part for part in parts if part)


def _findings(subject: Subject) -> Block:
    order = list(SEVERITIES)
    findings = sorted(
        (each for each in subject.result.findings if each.code not in setting.DEPARTURES),
        key=lambda finding: order.index(finding.severity),
    )
    if not findings:
        return Paragraphs(("No problems found.",))
    return Remarks(tuple((*SEVERITIES[each.severity], subject.told(each)) for each in findings))


def _recharge_facts(subject: Subject) -> Facts:
    recharge, balance, units = subject.result.recharge, subject.result.balance, subject.units
    assert recharge is not None
    rows = [
        ("Slow charging before full power", _trickle_lasted(recharge, units)),
        ("Power of the slow charging", units.text("power", recharge.trickle_kw)),
        ("Power afterwards", units.text("power", recharge.full_power_kw)),
        *_highest(recharge, units),
        ("Energy taken in", units.text("energy", recharge.energy_in_kwh)),
        (
            "Put back before the display left 0 %, times the charging efficiency",
            units.text("energy", recharge.below_zero_kwh),
        ),
    ]
    rows += story.pack_voltage(subject)
    if balance is not None and balance.agrees is not None:
        driven = units.text("energy", balance.driven_below_zero_kwh)
        charged = units.text("energy", balance.recharged_below_zero_kwh)
        verdict = "agree" if balance.agrees else "do not agree"
        rows.append(("Energy out and in", f"{driven} driven, {charged} put back: they {verdict}"))
    return Facts(tuple(rows))


def _trickle_lasted(recharge: Recharge, units: Units) -> str:
    end = recharge.trickle_end_s
    if recharge.trickle_s is not None or end is None:
        return units.text("duration", recharge.trickle_s)
    if end.low is not None:
        return f"over {_seconds(end.low, units)}"
    return UNKNOWN if end.high is None else f"under {_seconds(end.high, units)}"


def _seconds(exact_s: float, units: Units) -> str:
    return units.text("duration", Quantity(exact_s, exact_s, exact_s))


def _highest(recharge: Recharge, units: Units) -> list[tuple[str, str]]:
    highest = recharge.highest_kw
    if highest is None or highest.value is None:
        return []
    return [("Highest power shown", f"{units.plain('power', highest.value)}: at least that")]


def _lap_check(subject: Subject) -> Block | None:
    check, trip, units = subject.result.lap_check, subject.result.trip_check, subject.units
    said: list[tuple[str, Tone, str]] = []
    if check is not None:
        words = "agrees with" if check.agrees else "does not agree with"
        measured = units.text("distance", check.measured_m)
        said.append(("Survey", "good" if check.agrees else "doubt",
                     f"The lap by GPS, {measured}, {words} the survey\u2019s "
                     f"{units.plain('distance', check.surveyed_m, 4)}."))  # fmt: skip
    if trip is not None:
        words = "agrees with" if trip.agrees else "does not agree with"
        ratio = units.text("ratio", trip.ratio)
        said.append(("Trip meter", "good" if trip.agrees else "doubt",
                     f"The car\u2019s trip meter {words} the track; trip meter : track is "
                     f"{ratio}."))  # fmt: skip
    return Remarks(tuple(said)) if said else None


def _sources(subject: Subject) -> tuple[tuple[str, str], ...]:
    session, document = subject.session, subject.document
    corrections = sum(
        1
        for key in ("events", "readings")
        for record in document.get(key) or ()
        if record.get("corrects")
    )
    fixes = sum(crumbs.seq.size for crumbs in session.breadcrumbs)
    kept = document.get("photos") or ()
    spoken = sum(map(is_sound, kept))
    return (
        ("Session", session.id),
        ("Evidence, SHA-256", subject.input_sha256),
        ("Engine", subject.engine),
        ("Recorders", ", ".join(device.label or device.id for device in session.devices)
         or "not stated"),
        ("Positions", number(fixes, 0)),
        ("Events that count", str(len(subject.events))),
        ("Readings that count", str(len(subject.readings))),
        ("Corrections", f"{corrections}; the originals are kept in the session file"),
        ("Photos", str(len(kept) - spoken)),
        ("Spoken notes", str(spoken)),
        ("Times of day", f"{subject.zone_name}, rounded to the second"),
        ("A tap is taken to be", tap_source(subject)),
        ("Distance by", subject.result.distance.method),
    )  # fmt: skip
