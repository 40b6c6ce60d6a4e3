"""What those who follow a session are told of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ebbline.records.result import Quantity
from ebbline.vocabulary import EVENTS, ZeroBasis

ALERTS = tuple(kind for kind, known in EVENTS.items() if known.alert)
TRAIL_POINTS = 500  # at most


@dataclass(frozen=True, slots=True)
class Position:
    """The newest fix; ``t_ms`` in session time."""

    lat: float
    lon: float
    accuracy_m: float | None
    speed_mps: float | None
    t_ms: int


@dataclass(frozen=True, slots=True)
class Alert:
    """Something that those behind must know at once; ``t_ms`` in session time."""

    kind: str
    t_ms: int
    event_id: str


@dataclass(frozen=True, slots=True)
class CountedFrom:
    """The zero; ``t_ms`` in session time."""

    basis: ZeroBasis
    t_ms: int


@dataclass(frozen=True, slots=True)
class Live:
    """How it stands."""

    cursor: int
    position: Position | None
    trail: list[list[float]]
    last_event: dict[str, Any] | None
    alerts: list[Alert]
    zero: CountedFrom | None
    past_zero_m: Quantity | None
    energy_past_zero_kwh: Quantity | None
    course: dict[str, Any]
    vehicle_label: str | None
    provisional: bool = True
