"""What a warning is worth, in a sentence: what was left at it with most cars."""

from __future__ import annotations

import math

from ebbline.records.comparison import TrustInWarning
from ebbline.report.figures import NO_BREAK, Units, number
from ebbline.vocabulary import first_upper, warning_class_name


def bound_in_words(trust: TrustInWarning, units: Units) -> str:
    """The bound that can be stated, or the least seen and why no more can be said."""
    bound = trust.bound
    name = first_upper(warning_class_name(trust.warning_class))
    sure = f"said with {number(100 * bound.confidence, 0)}{NO_BREAK}% confidence"
    parts = []
    if bound.left_m is not None:
        parts.append(units.plain("distance", bound.left_m))
    if bound.left_kwh is not None:
        parts.append(units.plain("energy", bound.left_kwh))
    if bound.left_s is not None:
        parts.append(f"{number(bound.left_s / 60, 1)}{NO_BREAK}min")
    if parts:
        return (f"{name}: {number(100 * bound.share, 0)}{NO_BREAK}% of cars had at least "
                f"{', '.join(parts)} left, {sure} ({bound.method}).")  # fmt: skip
    why = bound.reason or "no bound can be stated"
    if trust.least_left_m is not None:
        least = units.text("distance", trust.least_left_m)
    elif trust.least_left_kwh is not None:
        least = units.text("energy", trust.least_left_kwh)
    else:
        return f"{name}: {why}."
    whose = f" ({trust.least_vehicle})" if trust.least_vehicle else ""
    share = number(math.floor(100 * bound.least_share), 0)  # a promise is never rounded up
    return (f"{name}: the least seen was {least}{whose}; "
            f"{share}{NO_BREAK}% of cars have that or more, {sure}. "
            f"More can\u2019t be said: {why}.")  # fmt: skip
