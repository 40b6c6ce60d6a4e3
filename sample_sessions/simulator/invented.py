"""The invented car and course that the samples share."""

from __future__ import annotations

import numpy as np

from simulator.car import SPEEDOMETER_RATIO, Car, Fade
from simulator.course import Course, build_course
from simulator.drive import Floored

SEED = 20260302
INVENTED = (
    "Invented: made by a program to show and test Ebbline. No such car, course, place or run "
    "exists; the coordinates lie in the open sea."
)
SURVEYED_LAP_M = 2400.0
TRUE_LAP_M = 2400.3  # within the surveyor's standard deviation of 0.5 m
STRAIGHTS_AT_M = (2070.0, 790.0)


def kmh_shown(speed_kmh: float) -> float:
    """True m/s at which the sample cars' speedometers show a speed."""
    return speed_kmh / 3.6 / SPEEDOMETER_RATIO


CAR_A = Car(
    warnings=(
        (-2.4, "battery low, charge soon"),
        (-0.6, "battery very low, power may be reduced"),
        (0.063, "power reduced"),
        (0.5, "stop safely, charge now"),
        (0.72, "about to switch off"),
    ),
    reserve_kwh=0.78,
)


def falling_steps(*falls_kwh: float) -> tuple[tuple[Fade, ...], tuple[Floored, ...]]:
    """Top speed in four steps, each at so much energy past zero, and full throttle within each."""
    steps = zip(falls_kwh, (90, 70, 50, 30), (45.0, 28.0, 16.0, 9.0), (30, 26, 30, 40), strict=True)
    fades, floored = [], []
    for fall_kwh, shown_kmh, power_kw, duration_s in steps:
        fades.append(Fade(fall_kwh, kmh_shown(shown_kmh), power_kw))
        floored.append(Floored(fall_kwh + 0.005, STRAIGHTS_AT_M, float(duration_s)))
    return tuple(fades), tuple(floored)


def course_one() -> Course:
    """A five-cornered closed course in the open sea."""
    corners = np.array([[0, 0], [820, -70], [960, 250], [520, 420], [60, 330]], dtype=float)
    return build_course(12.0, -38.0, TRUE_LAP_M, corners, rounding_m=78.0)
