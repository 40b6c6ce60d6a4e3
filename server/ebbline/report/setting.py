"""How it was that day, how it was to be driven, and where the run left the plan."""

from __future__ import annotations

from typing import Any

from ebbline.exchange.facts import facts_of
from ebbline.measure.quantity import COVERAGE_FACTOR
from ebbline.measure.units import factor
from ebbline.report.content import Remarks
from ebbline.report.figures import EN_DASH, Units
from ebbline.report.subject import Subject
from ebbline.vocabulary import FACTS, Fact, event_explained, zero_name

# Findings of the measuring core that say where the evidence left the plan.
DEPARTURES = ("outside_speed_band", "other_start", "other_zero", "other_end",
              "first_percent_missed")  # fmt: skip

CAUTIONS = (
    "Only on a closed course with its owner\u2019s permission: a car that loses propulsion on a "
    "public road endangers people. Local rules and licensed practice come first.",
    "The passenger operates the phone, never the driver. A chase vehicle with lights follows.",
    "Work on high voltage is for qualified people only.",
    "Running a battery empty may be against the maker\u2019s advice and warranty.",
    "The figures hold for this car, this day and this course. Another car, battery age, "
    "temperature or software can behave otherwise: nobody should count on a reserve past zero.",
)
_PICTURE_CAUTION = (
    "These figures hold for {which} and this course: nobody should count on a reserve past zero. "
    "Only on a closed course, with permission."
)
PICTURE_CAUTION = _PICTURE_CAUTION.format(which="this car, this day")
PAIR_CAUTION = _PICTURE_CAUTION.format(which="these drives, their days")


def vehicle_facts(subject: Subject) -> tuple[tuple[str, str], ...]:
    """What was driven."""
    load = subject.session.vehicle.road_load
    return _filled(
        ("Car", subject.session.vehicle.label),
        *_facts(subject, "vehicle.", but="vehicle.road_load."),
        ("Road load", None if load is None else
         f"{load.a_n:g} N + {load.b_n_per_mps:g} N/(m/s) + {load.c_n_per_mps2:g} N/(m/s)\u00b2"),
    )  # fmt: skip


def condition_facts(subject: Subject) -> tuple[tuple[str, str], ...]:
    """How it was that day."""
    course = subject.session.course
    return _filled(
        *_facts(subject, "conditions."),
        ("Course", course.label),
        ("Closed course", _yes(course.closed)),
        ("Surveyed lap", None if course.surveyed_lap_m is None else f"{course.surveyed_lap_m:g} m"),
    )


def protocol_facts(subject: Subject) -> tuple[tuple[str, str], ...]:
    """How it was to be driven, and what was chosen for the analysis."""
    protocol, raw = subject.session.protocol, subject.part("protocol")
    band, units = protocol.speed_band_kmh, subject.units
    kmh_mps = factor("km/h", "m/s")
    ends = raw.get("reserve_end")
    return _filled(
        ("Start at", None if protocol.start_soc_pct is None else f"{protocol.start_soc_pct:g} %"),
        ("Speed", None if band is None else
         f"{units.plain('speed', band[0] * kmh_mps, 0).split()[0]}{EN_DASH}"
         f"{units.plain('speed', band[1] * kmh_mps, 0)}"),
        ("Zero is", zero_name(subject.result.zero.basis)),
        ("Reserve ends at", event_explained(ends) if ends else None),
        ("With a restart between, at", f"the {protocol.which_end}" if protocol.which_end else None),
        ("Charging efficiency, as stated", None if protocol.charging_efficiency is None else
         f"{protocol.charging_efficiency * 100:g} %"),
    )  # fmt: skip


def departures(subject: Subject) -> Remarks | None:
    """Where the run left its plan; None where it did not."""
    said = _conditions(subject)
    said += [subject.told(each) for each in subject.result.findings if each.code in DEPARTURES]
    for stretch in subject.document.get("excluded") or ():
        why = stretch.get("reason") or "no reason given"
        span = f"{subject.clock(stretch['from_ms'])}{EN_DASH}{subject.clock(stretch['to_ms'])}"
        said.append(f"Positions of {stretch['device']} from {span} were left out: {why}.")
    if not said:
        return None
    return Remarks(tuple(("Departure", "doubt", text) for text in said))


def _conditions(subject: Subject) -> list[str]:
    known = facts_of(subject.document)
    said = []
    if known.get("conditions.full_charge_before") is False:
        said.append("The battery was not charged fully beforehand, so its display may be off.")
    if known.get("conditions.battery_warmed") is False:
        said.append("The battery was not warmed beforehand.")
    if subject.session.course.closed is not True:
        said.append("The plan does not state that the course was closed.")
    return said


def _facts(subject: Subject, place: str, but: str = "-") -> list[tuple[str, str]]:
    """The vocabulary's facts below a place of the set-up that are known, each in words."""
    return [
        (FACTS[path].name, in_words(FACTS[path], value, subject.units))
        for path, value in facts_of(subject.document).items()
        if path.startswith(place) and not path.startswith(but)
    ]


def in_words(fact: Fact, value: Any, units: Units) -> str:
    """What is stated of a car or a day, in the reader's units."""
    if fact.kind == "flag":
        return "yes" if value else "no"
    if fact.unit == "\u00b0C":
        return units.ambient(value)
    if fact.unit == "km":
        return units.plain("distance", value * 1000, 0)
    if fact.unit is None:
        return str(value)
    return (
        f"{COVERAGE_FACTOR * value:.2g} {fact.unit}" if fact.spread else f"{value:.6g} {fact.unit}"
    )


def _yes(flag: bool | None) -> str | None:
    return None if flag is None else "yes" if flag else "no"


def _filled(*rows: tuple[str, str | None]) -> tuple[tuple[str, str], ...]:
    return tuple((name, value) for name, value in rows if value)
