"""Fixes that are malformed by themselves, taken out of the batch that they came in."""

from __future__ import annotations

import re
from typing import Any

from ebbline.errors import InputError
from ebbline.exchange import session_file
from ebbline.store import breadcrumbs

MOST_CHECKS = 2_000  # of one upload: hundreds of bad fixes are found, in a fraction of a second
MOST_REFUSED_FIXES = 200  # of one entry that are told one by one


class Sieve:
    """For the entries of one upload, whose malformed fixes it finds by halving: as long as it has
    checks left, after that an entry with a malformed fix is refused as a whole.
    """

    def __init__(self) -> None:
        self._checks_left = MOST_CHECKS

    def sound(self, raw: object, where: str) -> tuple[dict[str, Any] | None, list[InputError]]:
        """The entry without its malformed fixes and what is wrong with those; None, with one
        error, when it is malformed as a whole.
        """
        whole = _problem(raw, where)
        if whole is None:
            assert isinstance(raw, dict)
            return raw, []
        if isinstance(raw, dict) and _columns_line_up(raw):
            malformed = self._malformed(raw, where)
            rest = [row for row in range(len(raw["seq"])) if row not in malformed]
            entry = breadcrumbs.take(raw, rest)
            # what is left may still not fit together, or not all was found
            if malformed and _problem(entry, where) is None:
                return entry, list(malformed.values())[:MOST_REFUSED_FIXES]
        return None, [whole]

    def _malformed(self, entry: dict[str, Any], where: str) -> dict[int, InputError]:
        found: dict[int, InputError] = {}
        waiting = [range(len(entry["seq"]))]
        while waiting and self._checks_left > 0:
            rows = waiting.pop()
            self._checks_left -= 1
            error = _problem(breadcrumbs.take(entry, rows), where)
            if error is None:
                continue
            if len(rows) == 1:
                place = re.sub(r"\[0\]$", f"[{rows[0]}]", error.where)
                found[rows[0]] = InputError(place, error.problem)
            else:
                middle = len(rows) // 2
                waiting += [rows[middle:], rows[:middle]]
        return found


def rows_of(raw: object) -> int:
    """How many fixes an entry claims to hold: the longest of its columns."""
    values = raw.values() if isinstance(raw, dict) else ()
    return max((len(value) for value in values if isinstance(value, list)), default=0)


def _columns_line_up(entry: dict[str, Any]) -> bool:
    seq = entry.get("seq")
    columns = [value for value in entry.values() if isinstance(value, list)]
    return isinstance(seq, list) and all(len(column) == len(seq) for column in columns)


def _problem(raw: object, where: str) -> InputError | None:
    try:
        session_file.check_breadcrumbs(raw, where)
    except InputError as error:
        return error
    return None
