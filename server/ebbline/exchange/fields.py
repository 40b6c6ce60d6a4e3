"""Marshmallow fields that take JSON's types as they are: no text for numbers, no number for flags.

Marshmallow's own would read ``"5"`` as 5 and ``1`` as true; a session file that means one thing
and says another must be refused, not guessed at.
"""

from __future__ import annotations

import math
import re
import uuid
import zoneinfo
from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

from marshmallow import ValidationError, fields

from ebbline.exchange.json_text import LARGEST_INTEGER, SMALLEST_INTEGER, shown

EARLIEST_MS, LATEST_MS = 946_684_800_000, 7_258_118_400_000  # years 2000 and 2200, UTC

MISSING: dict[str, str | list[Any] | dict[Any, Any]] = {
    "required": "is missing",
    "null": "must not be null",
}
# Whole texts, in what Python and ECMA-262, which JSON Schema speaks, read alike.
RFC3339 = re.compile(
    r"[0-9]{4}(-[0-9]{2}){2}[Tt][0-9]{2}(:[0-9]{2}){2}(\.[0-9]+)?([Zz]|[+-][0-9]{2}:[0-9]{2})"
)
SHA256 = re.compile(r"[0-9a-f]{64}")
UUID_FORM = re.compile(r"[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}")


class Plain(fields.Field[Any]):
    """A field that is null unless required, with our words for what is missing."""

    def __init__(self, *, required: bool = False, description: str = "") -> None:
        """``required`` means: present and not null. ``description`` is for the API's readers."""
        super().__init__(
            required=required,
            allow_none=not required,
            error_messages=MISSING,
            metadata={"description": description} if description else {},
        )


class Real(Plain):
    """A finite number within [low, high]; ``above`` excludes its bound."""

    def __init__(
        self,
        *,
        required: bool = False,
        low: float = -math.inf,
        high: float = math.inf,
        above: float = -math.inf,
    ) -> None:
        """Both bounds are in the key's own unit."""
        super().__init__(required=required)
        self.low, self.high, self.above = low, high, above

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise ValidationError(f"is {shown(value)}; a number is needed")
        if not SMALLEST_INTEGER <= value <= LARGEST_INTEGER:
            raise ValidationError(f"is {shown(value)}, out of every range")
        if value < self.low:
            raise ValidationError(f"is {value}; it must not be below {self.low}")
        if value > self.high:
            raise ValidationError(f"is {value}; it must not be above {self.high}")
        if value <= self.above:
            raise ValidationError(f"is {value}; it must be above {self.above}")
        return value


class Whole(Real):
    """An integer within bounds: ``5``, not ``5.0``."""

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> float:
        if isinstance(value, bool) or not isinstance(value, int):
            raise ValidationError(f"is {shown(value)}; a whole number is needed")
        return super()._deserialize(value, attr, data, **kwargs)


class Moment(Whole):
    """Milliseconds since the Unix epoch, between the years 2000 and 2200."""

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> float:
        moment = super()._deserialize(value, attr, data, **kwargs)
        if not EARLIEST_MS <= moment < LATEST_MS:
            raise ValidationError(
                f"is {moment}; milliseconds since 1970 between the years 2000 and 2200 are needed"
            )
        return moment


class Flag(Plain):
    """``true`` or ``false``."""

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> bool:
        if not isinstance(value, bool):
            raise ValidationError(f"is {shown(value)}; true or false is needed")
        return value


class Text(Plain):
    """Text, of any length."""

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> str:
        if not isinstance(value, str):
            raise ValidationError(f"is {shown(value)}; text is needed")
        return value


class Name(Text):
    """An id or a kind: text of 1 to 100 characters."""

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> str:
        text = super()._deserialize(value, attr, data, **kwargs)
        if not 1 <= len(text) <= 100:
            raise ValidationError(f"has {len(text)} characters; 1 to 100 are needed")
        if "\x00" in text:  # no name has one, and PostgreSQL can't index it
            raise ValidationError(f"is {shown(text)}; a NUL has no place in a name")
        return text


class Choice(Text):
    """One of a few words."""

    def __init__(self, words: Collection[str], *, required: bool = False) -> None:
        """``words``: what may stand there, as the message lists them."""
        super().__init__(required=required)
        self.words = words

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> str:
        word = super()._deserialize(value, attr, data, **kwargs)
        if word not in self.words:
            raise ValidationError(f"is {shown(word)}; it must be one of {', '.join(self.words)}")
        return word


class SessionId(Text):
    """A UUID in its usual form of five groups."""

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> str:
        text = super()._deserialize(value, attr, data, **kwargs)
        if not UUID_FORM.fullmatch(text):
            raise ValidationError(f"is {shown(text)}, not a UUID such as {uuid.UUID(int=0)}")
        return text


class Sha256(Text):
    """64 lower-case hexadecimal digits."""

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> str:
        text = super()._deserialize(value, attr, data, **kwargs)
        if not SHA256.fullmatch(text):
            raise ValidationError(f"is {shown(text)}; 64 lower-case hex digits are needed")
        return text


class WallTime(Text):
    """An RFC 3339 time with its offset."""

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> str:
        text = super()._deserialize(value, attr, data, **kwargs)
        if not RFC3339.fullmatch(text):
            raise ValidationError(
                f"is {shown(text)}; a time with its offset is needed, "
                "such as 2026-03-02T15:04:05+01:00"
            )
        try:
            datetime.fromisoformat(text.upper())
        except ValueError as error:
            raise ValidationError(f"is {shown(text)}, no such time: {error}") from None
        return text


class TimeZone(Text):
    """A time zone's name in the IANA database."""

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> str:
        text = super()._deserialize(value, attr, data, **kwargs)
        try:
            zoneinfo.ZoneInfo(text)
        except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
            raise ValidationError(f"is {shown(text)}, not a known time zone") from None
        return text
