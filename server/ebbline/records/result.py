"""What an analysis says of a session; field order is the result document's. A field's key there is
its name, or the ``key`` of its metadata where Python can't have the name.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from ebbline.records.phrases import Phrase, phrases_of

Severity: TypeAlias = Literal["note", "doubt", "error"]


@dataclass(frozen=True, slots=True)
class Quantity:
    """A figure with its 95 % coverage interval; all three finite, ``low <= value <= high``."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Bounds:
    """A figure of which bounds alone are known: an end that nothing bounds is None, and so is the
    value where none is likelier than another.
    """

    value: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Finding:
    """Something the reader of the figures must know. ``where`` names the evidence. ``told`` is the
    message in its parts, where it tells figures; the message itself tells them in SI and UTC.
    """

    severity: Severity
    code: str
    message: str
    where: str
    told: tuple[Phrase, ...] = ()

    def __post_init__(self) -> None:
        """Take the marks out of the message."""
        phrases = tuple(phrases_of(self.message))
        if any(phrase.of for phrase in phrases):
            object.__setattr__(self, "told", phrases)
            object.__setattr__(self, "message", "".join(phrase.words for phrase in phrases))


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch without fixes and the distance bridged across it."""

    from_ms: int
    to_ms: int
    bridged_m: Quantity


@dataclass(frozen=True, slots=True)
class Distance:
    """Distance driven by the whole track. ``polyline_m`` is the raw sum, for comparison."""

    total_m: Quantity | None
    polyline_m: float | None
    method: str
    gaps: tuple[Gap, ...] = ()


@dataclass(frozen=True, slots=True)
class Lap:
    """One lap from gate to gate."""

    number: int
    from_ms: int
    to_ms: int
    length_m: Quantity
    duration_s: Quantity
    energy_kwh: Quantity | None


@dataclass(frozen=True, slots=True)
class LapCheck:
    """The lap as measured by GNSS alone against the surveyed length."""

    surveyed_m: float
    measured_m: Quantity
    ratio: Quantity
    agrees: bool


@dataclass(frozen=True, slots=True)
class TripCheck:
    """The car's trip meter against our distance."""

    ratio: Quantity
    agrees: bool


@dataclass(frozen=True, slots=True)
class Zero:
    """Where zero was taken to be. ``t_ms`` is the estimated true moment, session time."""

    basis: str | None
    t_ms: int | None
    trip_reset_after_m: Quantity | None
    zero_range_after_m: Quantity | None


@dataclass(frozen=True, slots=True)
class EndOfReserve:
    """What the reserve is when it ends with this event."""

    event_id: str
    distance_m: Quantity | None
    energy_kwh: Quantity | None


@dataclass(frozen=True, slots=True)
class FromOtherZero:
    """The reserve to the same end, counted from a zero that the protocol doesn't take."""

    distance_m: Quantity | None
    energy_kwh: Quantity | None


@dataclass(frozen=True, slots=True)
class Shown:
    """What the car's trip meter showed last: figures as shown, by the readings named.

    ``reset_after_zero_m``: how far after zero it was reset; negative before it.
    """

    trip_distance_m: float | None
    trip_energy_kwh: float | None
    reading_ids: tuple[str, ...]
    reset_after_zero_m: Quantity | None


@dataclass(frozen=True, slots=True)
class Reserve:
    """From zero to the moment the car could no longer drive, which ``end_event_id`` names.

    Where it was restarted and drove on, ``first_end`` and ``last_end`` are both reserves, and the
    protocol says which of them counts. ``from_zero_range`` and ``from_zero_soc`` are to the same
    end from the display's other zero. ``basis``: its distance is by 'positions', the 'trip_meter'
    or 'both'.
    """

    distance_m: Quantity | None
    energy_kwh: Quantity | None
    duration_s: Quantity | None
    share_of_usable_pct: Quantity | None
    shut_down_before_zero: bool
    ends_at: str | None
    end_event_id: str | None = None
    first_end: EndOfReserve | None = None
    last_end: EndOfReserve | None = None
    basis: str | None = None
    from_zero_range: FromOtherZero | None = None
    from_zero_soc: FromOtherZero | None = None


@dataclass(frozen=True, slots=True)
class TimelineEntry:
    """One event on the timeline. ``t_ms`` is the tap as recorded, ``at_ms`` the estimated true
    moment (session time, milliseconds since the epoch). ``warning_class``, in the document
    ``class``: which class of the vocabulary somebody put a warning into.
    """

    event_id: str
    kind: str
    t_ms: int
    at_ms: Quantity
    distance_m: Quantity | None
    past_zero_m: Quantity | None
    energy_past_zero_kwh: Quantity | None
    left_m: Quantity | None
    left_kwh: Quantity | None
    speed_mps: Quantity | None
    warning_class: str | None = field(default=None, metadata={"key": "class"})


@dataclass(frozen=True, slots=True)
class Limit:
    """A stretch at full throttle: the speed it settled at and the power that speed takes.

    ``road_load_kw`` is what the road load takes on level ground; ``wheels_kw`` adds the climb by
    ``grade_pct`` (uphill positive; None: not known, level ground assumed); ``pack_kw`` is that
    from the pack.
    """

    from_ms: int
    to_ms: int
    speed_mps: Quantity | None
    road_load_kw: Quantity | None
    past_zero_m: Quantity | None
    energy_past_zero_kwh: Quantity | None
    grade_pct: Quantity | None
    wheels_kw: Quantity | None
    pack_kw: Quantity | None


@dataclass(frozen=True, slots=True)
class HeldAt:
    """A moment of the drive, session time, and how far past zero it came."""

    t_ms: int
    past_zero_m: Quantity | None
    energy_past_zero_kwh: Quantity | None


@dataclass(frozen=True, slots=True)
class HeldSpeed:
    """When a speed was last held, and first could not be held with the throttle floored."""

    speed_mps: float
    last_held: HeldAt | None
    first_not_held: HeldAt | None


@dataclass(frozen=True, slots=True)
class PackVoltage:
    """What the display showed of the pack's voltage at ``moment``: 'shut_off', 'rested',
    'precharged' or 'trickle'.
    """

    moment: str
    t_ms: int
    volts: Quantity
    per_cell_v: Quantity | None


@dataclass(frozen=True, slots=True)
class SocEnergy:
    """Energy taken in since plug-in when the display first showed a charge."""

    soc_pct: float
    energy_kwh: Quantity


@dataclass(frozen=True, slots=True)
class Recharge:
    """The car waking up on the charger.

    ``full_power_kw`` is a level that readings agree on; ``highest_kw`` the most that was shown, so
    power was at least that. ``trickle_end_s`` counts from the start of charging to the last reading
    on the trickle and to the next.
    """

    plug_in_ms: int | None
    trickle_s: Quantity | None
    trickle_kw: Quantity | None
    trickle_kwh: Quantity | None
    full_power_kw: Quantity | None
    energy_in_kwh: Quantity | None
    energy_to_soc: tuple[SocEnergy, ...]
    below_zero_kwh: Quantity | None
    highest_kw: Bounds | None = None
    trickle_end_s: Bounds | None = None


@dataclass(frozen=True, slots=True)
class SpeedConsumption:
    """Consumption over one stretch, with its mean speed."""

    from_ms: int
    to_ms: int
    speed_mps: Quantity
    wh_per_km: Quantity


@dataclass(frozen=True, slots=True)
class Consumption:
    """Energy per distance past zero, and by speed."""

    past_zero_wh_per_km: Quantity | None
    by_speed: tuple[SpeedConsumption, ...]


@dataclass(frozen=True, slots=True)
class Balance:
    """What was driven out below zero against what went back in below zero."""

    driven_below_zero_kwh: Quantity | None
    recharged_below_zero_kwh: Quantity | None
    agrees: bool | None


@dataclass(frozen=True, slots=True)
class AgainstDisplay:
    """A log's energy against the display's, between the first and the last trip reading."""

    ratio: Quantity
    agrees: bool


@dataclass(frozen=True, slots=True)
class LoggedEnergy:
    """Energy by a log of power, independent of the display. ``source``: what it was made of."""

    device: str
    source: str
    reserve_kwh: Quantity | None
    past_zero_wh_per_km: Quantity | None
    against_display: AgainstDisplay | None


@dataclass(frozen=True, slots=True)
class Result:
    """Everything ``ebbline analyze`` says of a session; field order is the document's, which says
    besides which engine found it.
    """

    session_id: str
    distance: Distance
    laps: tuple[Lap, ...]
    lap_check: LapCheck | None
    trip_check: TripCheck | None
    zero: Zero
    reserve: Reserve
    timeline: tuple[TimelineEntry, ...]
    limits: tuple[Limit, ...]
    recharge: Recharge | None
    consumption: Consumption
    balance: Balance | None
    findings: tuple[Finding, ...]
    power_log: LoggedEnergy | None = None
    held_speed: HeldSpeed | None = None
    pack_voltage: tuple[PackVoltage, ...] = ()
    shown: Shown | None = None
