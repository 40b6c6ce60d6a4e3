"""What a film shows second by second or frame by frame: where the car was past zero."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ebbline.errors import InputError, NotFoundError
from ebbline.records.curves import Band
from ebbline.records.result import Quantity
from ebbline.report.film import Camera
from ebbline.report.subject import Subject

AROUND_S = 10.0  # shown before zero and after the end
MOST_MOMENTS = 40_000  # eleven minutes at the highest rate; a card takes about 4 kB
MOST_PER_SECOND = 60.0


@dataclass(frozen=True, slots=True)
class Moment:
    """One frame: its number counted from the film's beginning, and what holds there."""

    number: int
    film_s: float
    at_ms: float
    past_zero_m: Quantity | None
    energy_past_zero_kwh: Quantity | None
    speed_mps: Quantity | None


def moments(subject: Subject, camera: Camera, per_second: float) -> Iterator[Moment]:
    """From shortly before zero to shortly after the end, ``per_second`` of them each second.

    Raises:
        InputError: a rate we don't take, or one that makes too many moments.
        NotFoundError: nothing of the run past zero is on this film.
    """
    first, last = wanted(subject, camera, per_second)
    film_s = np.arange(first, last + 1) / per_second
    at_ms = camera.at_ms(0.0) + film_s * 1000
    bands = {
        name: _at(subject, getattr(subject.curves, name), at_ms)
        for name in ("past_zero_m", "energy_past_zero_kwh", "speed_mps")
    }
    for row in range(film_s.size):
        values = {name: _quantity(band, row) for name, band in bands.items()}
        yield Moment(first + row, float(film_s[row]), float(at_ms[row]), **values)


def numbers(subject: Subject, camera: Camera, per_second: float) -> tuple[int, int]:
    """The first and the last frame, counted from the film's beginning.

    Raises:
        InputError: a rate we don't take.
        NotFoundError: nothing of the run past zero is on this film.
    """
    if not 0 < per_second <= MOST_PER_SECOND:
        raise InputError("rate", f"is {per_second:.5g} a second; above 0 and up to "
                         f"{MOST_PER_SECOND:g} are taken")  # fmt: skip
    zero_ms, curves = subject.result.zero.t_ms, subject.curves
    if zero_ms is None or curves.t_ms.size < 2:
        raise NotFoundError("nothing can be shown past zero: the session has no zero or no track")
    ended = subject.end_of_reserve
    end_ms = float(curves.t_ms[-1]) if ended is None else ended.at_ms.value + AROUND_S * 1000
    from_ms = max(float(curves.t_ms[0]), zero_ms - AROUND_S * 1000)
    first_s = max(0.0, camera.film_s(from_ms))
    last_s = camera.film_s(min(end_ms, float(curves.t_ms[-1])))
    first, last = int(np.ceil(first_s * per_second)), int(np.floor(last_s * per_second))
    if last < first:
        raise NotFoundError(
            f"{camera.name} was over before zero: by its mark the film ends or begins elsewhere; "
            "look at the mark's seconds of film"
        )
    return first, last


def wanted(subject: Subject, camera: Camera, per_second: float) -> tuple[int, int]:
    """The same, where so many can be made.

    Raises:
        InputError: a rate we don't take, or one that makes too many moments.
        NotFoundError: nothing of the run past zero is on this film.
    """
    first, last = numbers(subject, camera, per_second)
    if last - first + 1 > MOST_MOMENTS:
        raise InputError("rate", f"of {per_second:.5g} a second would make {last - first + 1:,} "
                         f"cards; {MOST_MOMENTS:,} are the most we make")  # fmt: skip
    return first, last


def _at(subject: Subject, band: Band, at_ms: np.ndarray) -> Band:
    t_ms = subject.curves.t_ms
    return Band(*(np.interp(at_ms, t_ms, part) for part in (band.value, band.low, band.high)))


def _quantity(band: Band, row: int) -> Quantity | None:
    value, low, high = (float(part[row]) for part in (band.value, band.low, band.high))
    return Quantity(value, low, high) if np.isfinite([value, low, high]).all() else None
