"""The method in words for somebody who reads the figures, not the code."""

from __future__ import annotations

from ebbline.report.headlines import energy_source, tap_source
from ebbline.report.subject import Subject

INTERVALS = (
    "Every figure stands with an interval in which the truth lies in 95 of 100 cases. It grows "
    "with what is not known: how late somebody tapped, how coarse the display is, how far a "
    "position is off. A figure that the evidence can\u2019t give is called not known, and why "
    "stands among the doubts."
)
MOMENTS = (
    "A passenger taps what happens and notes what the display shows; nobody is that quick, so each "
    "tap is taken to be {tap}. Clocks of phones are compared with one another and put right."
)
DISTANCE = (
    "GPS positions, simply joined up, make a line that is wrong: noise makes "
    "it too long, cut corners too short, and it grows while the car stands. Instead position and "
    "speed are estimated together for the whole drive, and the speed is added up."
)
METER = (
    "The car\u2019s own trip meter shows steps, and counts a per cent or two more or less than the "
    "ground has, nobody knows which. Where no positions tell it, the distance is a curve in time "
    "through what the meter showed. Its interval holds the steps, the meter\u2019s scale, the "
    "moment of its reset, and how the speed may have changed between two readings."
)
RULER = "On a course whose lap was surveyed, the laps are the reference for the distance."
ENERGY = (
    "A display that shows 0.1 kWh says only between which values the truth lies. The energy is a "
    "curve that goes through all of these intervals and follows speed and distance between them."
)
RECHARGE = (
    "After the drive the car is charged from empty: the energy taken in until its display left "
    "0 %, times the charging efficiency, is a second way to the same reserve. Where the two agree, "
    "both are more likely to be right."
)


def method(subject: Subject) -> tuple[str, ...]:
    """Paragraphs on how the figures were reached, for this session."""
    result = subject.result
    texts = [INTERVALS, MOMENTS.format(tap=tap_source(subject))]
    if result.distance.total_m is not None and result.distance.polyline_m is None:
        texts.append(f"{METER} Here: {result.distance.method}.")
    elif result.distance.total_m is not None:
        ruler = f" {RULER}" if subject.session.course.surveyed_lap_m else ""
        meter = f" {METER}" if result.reserve.basis == "both" else ""
        texts.append(f"{DISTANCE}{ruler}{meter} Here: {result.distance.method}.")
    if result.reserve.energy_kwh is not None:
        texts.append(f"{ENERGY} Here: {energy_source(subject)}")
    if result.recharge is not None:
        texts.append(RECHARGE)
    return tuple(texts)
