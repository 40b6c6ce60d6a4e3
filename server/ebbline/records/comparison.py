"""Many sessions side by side: what a comparison takes of each, and what it says of all.

Field order is the comparison document's. A figure of which bounds alone are known, such as the
reserve of a car that shut down before zero, is ``Bounds``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from ebbline.records.result import Bounds, Finding, Quantity

Figure: TypeAlias = Quantity | Bounds | None
Fact: TypeAlias = str | float | bool | None
ModelName: TypeAlias = Literal["fixed", "proportional", "mixed"]
Verdict: TypeAlias = Literal["fixed", "proportional", "mixed", "undecided"]


@dataclass(frozen=True, slots=True)
class WarningShown:
    """The first warning of a class in a session, and what was left at it until the end.

    ``words``: what the car said.
    """

    warning_class: str
    words: str | None
    left_m: Quantity | None
    left_kwh: Quantity | None
    left_s: Quantity | None


@dataclass(frozen=True, slots=True)
class Drive:
    """One session as a comparison takes it.

    ``car`` tells cars apart, ``vehicle`` is what people call it. ``reserves`` holds distance and
    energy to the end by the zero they count from; it is empty where the car shut down before zero,
    and ``last_soc_pct`` is then what it showed last. ``figures`` are the headline figures by their
    place in the result document, ``facts`` what is stated of car, day, course and plan by its
    place in the session file. ``pack_measured``: ``usable_kwh`` is our own measure of the pack.
    """

    session_id: str
    car: str
    vehicle: str
    started_at: str | None = None
    started_ms: int | None = None
    usable_kwh: Quantity | None = None
    pack_measured: bool = False
    zero_basis: str | None = None
    reserve_end: str | None = None
    shut_down_before_zero: bool = False
    last_soc_pct: float | None = None
    reserves: Mapping[str, tuple[Quantity | None, Quantity | None]] = field(default_factory=dict)
    warnings: tuple[WarningShown, ...] = ()
    figures: Mapping[str, Quantity] = field(default_factory=dict)
    facts: Mapping[str, Fact] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ComparedSession:
    """One row of the comparison.

    ``tag`` is the car's number, with a letter where the car was driven before; leaving sessions out
    changes no tag. ``repeat_of`` is the first session with the same car. ``residual_kwh`` is the
    reserve less what the mixed model expects of a car with this pack.
    """

    session_id: str
    tag: str
    vehicle: str
    usable_kwh: Quantity | None
    chemistry: str | None
    reserve_m: Figure
    reserve_kwh: Figure
    share_of_usable_pct: Figure
    shut_down_before_zero: bool
    repeat_of: str | None
    started_at: str | None
    software: str | None
    odometer_km: float | None
    ambient_c: float | None
    pack_c: float | None
    consumption_wh_per_km: Quantity | None
    residual_kwh: Figure


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A session that no figure of the comparison rests on; without a ``tag`` where nothing is known
    of its car.
    """

    session_id: str
    why: str
    tag: str | None = None


@dataclass(frozen=True, slots=True)
class LinePoint:
    """What a model says of cars with one size of pack."""

    usable_kwh: float
    reserve_kwh: Quantity


@dataclass(frozen=True, slots=True)
class Model:
    """One of three answers to what the reserve is; ``aicc`` and ``weight`` are None where too few
    cars are compared for it. ``line``: to be drawn over the packs' sizes, empty without a fit.
    """

    name: ModelName
    fixed_kwh: Quantity | None
    share_pct: Quantity | None
    between_cars_sd_kwh: Figure
    aicc: float | None
    weight: float | None
    line: tuple[LinePoint, ...] = ()


@dataclass(frozen=True, slots=True)
class WithoutCar:
    """What would be said if a car were not there."""

    vehicle: str
    session_ids: tuple[str, ...]
    verdict: Verdict
    fixed_kwh: Quantity | None
    share_pct: Quantity | None


@dataclass(frozen=True, slots=True)
class Influence:
    """How the reserve of cars with equal packs goes with something else; nothing is adjusted by it.

    ``change_kwh`` is for so much more of it as ``per`` says, or for ``level`` instead of
    ``against``. ``clear``: its interval leaves out zero; None where it can't be said.
    """

    of: str
    per: float | None
    unit: str | None
    level: str | None
    against: str | None
    cars: int
    change_kwh: Quantity | None
    clear: bool | None
    reason: str | None


@dataclass(frozen=True, slots=True)
class ReserveModel:
    """Fixed amount or share of the pack: three models, what they say together, and what that hangs
    on.

    ``next_car_kwh``: between what the reserve of a further car with the mean pack would lie.
    """

    models: tuple[Model, ...]
    verdict: Verdict
    statement: str
    cars: int
    sessions: int
    mean_usable_kwh: float | None
    next_car_kwh: Quantity | None
    without: tuple[WithoutCar, ...]
    influences: tuple[Influence, ...]


@dataclass(frozen=True, slots=True)
class ToleranceBound:
    """At least so much was left with this share of cars, said with this confidence; None with the
    reason where it can't be said. ``method``: 'order statistics' or 'normal or log-normal, the
    lower'. ``least_share``: the share of cars that have at least the least seen, with the same
    confidence.
    """

    share: float
    confidence: float
    left_m: float | None
    left_kwh: float | None
    left_s: float | None
    method: str | None
    reason: str | None
    least_share: float


@dataclass(frozen=True, slots=True)
class TrustInWarning:
    """What was left at the first warning of a class, over cars; a car counts once, with the least.

    ``least_vehicle`` is the car with the least. A median of fewer than six cars has no interval.
    """

    warning_class: str = field(metadata={"key": "class"})
    n: int
    least_left_m: Quantity | None
    median_left_m: Figure
    least_left_kwh: Quantity | None
    median_left_kwh: Figure
    least_left_s: Quantity | None
    median_left_s: Figure
    bound: ToleranceBound
    least_vehicle: str | None


@dataclass(frozen=True, slots=True)
class Repeat:
    """A car's later session against its first one: later less first.

    ``apart``: which of energy and distance differ by more than their doubt; ``agrees`` is True
    where neither does, None where neither is known. ``per_1000_km_kwh``: the change of the reserve
    per 1,000 km of odometer between them.
    """

    vehicle: str
    session_ids: tuple[str, ...]
    difference_kwh: Quantity | None
    difference_m: Quantity | None
    agrees: bool | None
    apart: tuple[Literal["energy", "distance"], ...]
    software: tuple[str | None, str | None]
    odometer_difference_km: float | None
    per_1000_km_kwh: Quantity | None


@dataclass(frozen=True, slots=True)
class Comparison:
    """Everything ``ebbline compare`` says."""

    zero_basis: str | None
    reserve_end: str | None
    sessions: tuple[ComparedSession, ...]
    left_out: tuple[LeftOut, ...]
    reserve_model: ReserveModel
    warnings: tuple[TrustInWarning, ...]
    repeats: tuple[Repeat, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class PairedFigure:
    """A headline figure of two sessions, named by its place in the result document.

    ``difference`` is the other less the one; ``agrees``: it lies within its 95 %; both None where
    one of them isn't known.
    """

    name: str
    one: Quantity | None
    other: Quantity | None
    difference: Quantity | None
    agrees: bool | None


@dataclass(frozen=True, slots=True)
class DifferingFact:
    """What is stated otherwise of two sessions, by its place in the session file."""

    name: str
    one: Fact
    other: Fact


@dataclass(frozen=True, slots=True)
class Pair:
    """Two sessions on one page."""

    session_ids: tuple[str, str]
    figures: tuple[PairedFigure, ...]
    differs: tuple[DifferingFact, ...]
