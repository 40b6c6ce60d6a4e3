"""What can and can't be concluded of the reserve from so many cars, in plain sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ebbline.compare.reserve_model import FEWEST_CARS, Fits
from ebbline.records.comparison import Figure, Model, ModelName, Verdict, WithoutCar
from ebbline.records.result import Quantity
from ebbline.vocabulary import first_upper

MOST_NAMED = 3  # cars on which the answer hangs
NOTHING = "No session with a known pack tells a reserve, so nothing can be said of it."


def statement_of(
    fits: Fits, models: Sequence[Model], verdict: Verdict, without: Sequence[WithoutCar]
) -> str:
    """The sentences below the figures: the answer, what stays open, what it hangs on."""
    by_name = {model.name: model for model in models}
    parts = [_answer(fits, by_name, verdict), _early(fits), _next_car(fits)]
    parts.append(_hangs(verdict, without))
    return " ".join(part for part in parts if part)


def _answer(fits: Fits, models: dict[ModelName, Model], verdict: Verdict) -> str:
    n, fixed, share, mixed = _cars(fits), models["fixed"], models["proportional"], models["mixed"]
    if verdict == "fixed":
        return (
            f"In these {n} the reserve is more a fixed amount than a share of the pack: "
            f"{figure(fixed.fixed_kwh)} kWh, from which cars differ by "
            f"{short(fixed.between_cars_sd_kwh)} kWh (one standard deviation). A share of the pack "
            f"besides is not shown; {span(mixed.share_pct)} % can't be ruled out."
        )
    if verdict == "proportional":
        return (
            f"In these {n} the reserve is more a share of the pack than a fixed amount: "
            f"{figure(share.share_pct)} % of the usable energy, from which cars differ by "
            f"{short(share.between_cars_sd_kwh)} kWh (one standard deviation). A fixed amount "
            f"besides is not shown; {span(mixed.fixed_kwh)} kWh can't be ruled out."
        )
    if verdict == "mixed":
        return (
            f"In these {n} the reserve has a fixed part, {figure(mixed.fixed_kwh)} kWh, and grows "
            f"with the pack, by {figure(mixed.share_pct)} % of the usable energy; cars differ from "
            f"that by {short(mixed.between_cars_sd_kwh)} kWh (one standard deviation)."
        )
    if fits.cars.n < FEWEST_CARS:
        return (
            f"{first_upper(n)} can't say whether the reserve is a fixed amount or a share of the "
            f"pack; that takes {FEWEST_CARS} at the very least, with packs of unlike size."
        )
    return (
        f"These {n} don't tell whether the reserve is a fixed amount or a share of the pack. If it "
        f"is fixed, it is {figure(fixed.fixed_kwh)} kWh; if it is a share, "
        f"{figure(share.share_pct)} % of the usable energy; a mixture of both is not ruled out."
    )


def _early(fits: Fits) -> str:
    early = [
        any(member.drive.shut_down_before_zero for member in group) for group in fits.cars.members
    ]
    count = sum(early)
    if not count:
        return ""
    which = "One car" if count == 1 else f"{count} cars"
    return f"{which} shut down before zero and {'counts' if count == 1 else 'count'} as that."


def _next_car(fits: Fits) -> str:
    beyond = fits.next_car
    if fits.cars.n < FEWEST_CARS or beyond is None:
        return ""
    return (
        f"A further car with a usable {fits.mean_kwh:.0f} kWh can be expected to have "
        f"{span(beyond)} kWh; no single car's figure holds for another."
    )


def _hangs(verdict: Verdict, without: Sequence[WithoutCar]) -> str:
    turning = [other for other in without if other.verdict != verdict]
    if verdict == "undecided":
        return " ".join(map(_else, turning)) if len(turning) <= MOST_NAMED else ""
    if not turning:
        return "No one car decides this."
    if len(turning) <= MOST_NAMED:
        names = " or ".join(other.vehicle for other in turning)
        return f"It hangs on single cars: without {names} it would not be said."
    return f"It hangs on single cars: without any of {len(turning)} it would not be said."


def _else(other: WithoutCar) -> str:
    """What the other cars say without one, where all together don't decide."""
    said = {
        "fixed": f"a fixed amount of {figure(other.fixed_kwh)} kWh, rather than a share",
        "proportional": f"a share of {figure(other.share_pct)} % of the usable energy, rather than "
        f"a fixed amount",
        "mixed": f"a fixed part of {figure(other.fixed_kwh)} kWh and, on top, "
        f"{figure(other.share_pct)} % of the usable energy",
    }[other.verdict]
    return (
        f"Without {other.vehicle} the others would say: {said}. One car is no reason to leave it "
        f"out; more cars like it would tell."
    )


def _cars(fits: Fits) -> str:
    n, sessions = fits.cars.n, sum(len(group) for group in fits.cars.members)
    cars = f"{n} {'car' if n == 1 else 'cars'}"
    return cars if sessions == n else f"{cars} ({sessions} sessions)"


def figure(told: Figure) -> str:
    """A figure with its interval: 'value (low to high)'."""
    if not isinstance(told, Quantity):
        return short(told)
    places = _places(told)
    value, low, high = (_number(part, places) for part in (told.value, told.low, told.high))
    return f"{value} ({low} to {high})"


def span(told: Figure) -> str:
    """Its interval alone: 'low to high'."""
    if not isinstance(told, Quantity):
        return "any"
    places = _places(told)
    return f"{_number(told.low, places)} to {_number(told.high, places)}"


def short(told: Figure) -> str:
    """Its value alone."""
    if told is None or told.value is None:
        return "not known"
    return _number(told.value, _places(told) if isinstance(told, Quantity) else 2)


def _places(told: Quantity) -> int:
    half = (told.high - told.low) / 2
    return 3 if half <= 0 else max(0, min(6, 1 - math.floor(math.log10(half))))


def _number(value: float, places: int) -> str:
    return f"{value:.{places}f}".replace("-", "\u2212")
