"""In which form a CSV's times are written, told from its cells."""

from __future__ import annotations

import re
from collections.abc import Sequence

ISO = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d([.,]\d+)?)?(Z|[+-]\d\d:?\d\d)?", re.I)
# A day's form with what it may be instead: the other order of day and month.
_DAYS: tuple[tuple[str, str, str | None], ...] = (
    (r"\d\d?\.\d\d?\.\d{4}", "%d.%m.%Y", None),
    (r"\d\d?\.\d\d?\.\d\d", "%d.%m.%y", None),
    (r"\d{4}/\d\d?/\d\d?", "%Y/%m/%d", None),
    (r"\d{4}-\d\d-\d\d", "%Y-%m-%d", None),
    (r"(20|21)\d\d(0[1-9]|1[0-2])([0-2]\d|3[01])", "%Y%m%d", None),
    (r"\d\d?-[A-Za-z]{3}-\d{4}", "%d-%b-%Y", None),
    (r"\d\d?-[A-Za-z]{3}-\d\d", "%d-%b-%y", None),
    (r"\d\d? [A-Za-z]{3} \d{4}", "%d %b %Y", None),
    (r"\d\d?/\d\d?/\d{4}", "%d/%m/%Y", "%m/%d/%Y"),
    (r"\d\d?-\d\d?-\d{4}", "%d-%m-%Y", "%m-%d-%Y"),
    (r"\d\d?/\d\d?/\d\d", "%d/%m/%y", "%m/%d/%y"),
)
_CLOCKS: tuple[tuple[str, str], ...] = (
    (r"\d\d?:\d\d:\d\d", "%H:%M:%S"),
    (r"\d\d?:\d\d:\d\d\.\d+", "%H:%M:%S.%f"),
    (r"\d\d?:\d\d:\d\d,\d+", "%H:%M:%S,%f"),
    (r"\d\d?:\d\d", "%H:%M"),
    (r"\d\d?:\d\d:\d\d ?[AaPp][Mm]", "%I:%M:%S %p"),
    (r"\d\d?:\d\d:\d\d\.\d+ ?[AaPp][Mm]", "%I:%M:%S.%f %p"),
    (r"\d\d?:\d\d ?[AaPp][Mm]", "%I:%M %p"),
)


def form_of(cells: Sequence[str]) -> tuple[str | None, bool]:
    """The pattern of day and time of day, and whether it is sure: day and month may be the other
    way round.
    """
    for between in (" ", ", ", "T"):
        for clock, clock_form in _CLOCKS:
            for day, day_form, swapped in _DAYS:
                if all(re.fullmatch(f"{day}{between}{clock}", cell) for cell in cells):
                    joined = f"{between}{_as_written(clock_form, cells)}"
                    if swapped is None:
                        return f"{day_form}{joined}", True
                    first, second = _two_numbers(cells)
                    if second and not first:
                        return f"{swapped}{joined}", True
                    # A clock of twelve hours goes with the month first.
                    likely = swapped if "%p" in clock_form and not first else day_form
                    return f"{likely}{joined}", first
    return None, False


def days_alone(cells: Sequence[str]) -> bool:
    """Whether each is a day without a time of day."""
    return any(all(re.fullmatch(day, cell) for cell in cells) for day, _, _ in _DAYS)


def clocks_alone(cells: Sequence[str]) -> bool:
    """Whether each is a time of day without a day."""
    return any(all(re.fullmatch(clock, cell) for cell in cells) for clock, _ in _CLOCKS)


def _as_written(clock_form: str, cells: Sequence[str]) -> str:
    """Without the gap before AM and PM where there is none."""
    near = all(re.search(r"\d[AaPp][Mm]$", cell) for cell in cells)
    return clock_form.replace(" %p", "%p") if near else clock_form


def _two_numbers(cells: Sequence[str]) -> tuple[bool, bool]:
    """Whether the first or the second number of a day is ever above twelve."""
    parts = [re.split(r"[/-]", cell) for cell in cells]
    first, second = (any(int(part[place]) > 12 for part in parts) for place in (0, 1))
    return first, second
