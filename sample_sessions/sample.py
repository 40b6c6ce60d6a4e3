"""What a sample consists of."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Sample:
    """A session file, the truth beside it, and the pictures in it by their SHA-256."""

    name: str
    session: dict[str, Any]
    truth: dict[str, Any]
    pictures: dict[str, bytes] = field(default_factory=dict)
