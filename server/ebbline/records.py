"""Frozen records shared by every layer: the typed view of one session's evidence and its result.

A record of evidence holds what was observed, never what was computed from it. Absent and
``None`` both mean 'not known', never zero; in columns 'not known' is NaN.

Time: ``t_ms`` is the device's own stamp in milliseconds since the Unix epoch; adding the
device's ``clock_offset_ms`` gives session time. The wire format lives in ``exchange``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt

from ebbline.vocabulary import ReserveEnd, Rounding, WhichEnd, ZeroBasis

FloatArray: TypeAlias = npt.NDArray[np.float64]
IntArray: TypeAlias = npt.NDArray[np.int64]
BoolArray: TypeAlias = npt.NDArray[np.bool_]
TextArray: TypeAlias = npt.NDArray[np.str_]

Severity: TypeAlias = Literal["note", "doubt", "error"]


# --- evidence -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Delay:
    """How much later than the fact somebody taps: mean and standard deviation, seconds."""

    mean_s: float
    sd_s: float


# A passenger's reaction plus the reach to the screen, when the protocol states nothing: anything
# from 0.3 to 2 s (common practice, no source).
USUAL_TAP_DELAY = Delay(mean_s=1.15, sd_s=0.5)


@dataclass(frozen=True, slots=True)
class Pack:
    """The traction battery as its maker states it."""

    usable_kwh: float | None = None
    series_cells: int | None = None
    chemistry: str | None = None


@dataclass(frozen=True, slots=True)
class RoadLoad:
    """Force at steady speed on the level: ``a + b v + c v²``, newtons, v in m/s."""

    a_n: float
    b_n_per_mps: float
    c_n_per_mps2: float
    driveline_efficiency: float | None = None


@dataclass(frozen=True, slots=True)
class Vehicle:
    """The car under test."""

    label: str | None = None
    software: str | None = None
    odometer_km: float | None = None
    mass_kg: float | None = None
    pack: Pack = Pack()
    road_load: RoadLoad | None = None


@dataclass(frozen=True, slots=True)
class Protocol:
    """How the run was to be driven, and how late the passenger taps and notes readings."""

    start_soc_pct: float | None = None
    speed_band_kmh: tuple[float, float] | None = None
    tap_delay: Delay | None = None
    reading_delay: Delay | None = None
    zero_basis: ZeroBasis | None = None
    zero_ms: float | None = None  # session time, for the basis 'moment'
    reserve_end: ReserveEnd | None = None
    which_end: WhichEnd | None = None  # of several ends with a restart between
    charging_efficiency: float | None = None
    held_speed_kmh: float | None = None  # when it was last held is asked


@dataclass(frozen=True, slots=True)
class Gate:
    """The line that ends a lap: its middle, the heading across it, and half its width."""

    lat: float
    lon: float
    heading_deg: float
    half_width_m: float


@dataclass(frozen=True, slots=True)
class CheckedLap:
    """The lap as an earlier lap check on the same course measured it, 1-sigma."""

    length_m: float
    sd_m: float


@dataclass(frozen=True, slots=True)
class Course:
    """The closed course and the lap length its owner or a surveyor states.

    ``full_throttle_grade_pct``: the grade where full throttle is driven, in the direction driven.
    """

    label: str | None = None
    surveyed_lap_m: float | None = None
    surveyed_lap_sd_m: float | None = None
    closed: bool | None = None
    gate: Gate | None = None
    checked_lap: CheckedLap | None = None
    full_throttle_grade_pct: float | None = None
    full_throttle_grade_sd_pct: float | None = None


@dataclass(frozen=True, slots=True)
class Device:
    """A recorder and the offset of its clock: add it to the device's ``t_ms``."""

    id: str
    label: str | None = None
    clock_offset_ms: float = 0.0
    clock_offset_sd_ms: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Breadcrumbs:
    """The fixes of one device; every array has shape (n,), in order of ``seq``.

    ``accuracy_m`` is the 95 % radius (W3C Geolocation). NaN is 'not known' in every float
    column but ``lat`` and ``lon``, which are always finite. ``t_ms`` need not be in order: a
    phone may deliver a fix late. ``page`` names the load of the recording page that made each fix
    (empty where none is told): within one load a stamp never goes back. ``mono_ms`` is that load's
    monotonic clock, which nobody sets but which may stand still while the phone sleeps.
    """

    device: str
    seq: IntArray
    t_ms: IntArray
    lat: FloatArray
    lon: FloatArray
    accuracy_m: FloatArray
    speed_mps: FloatArray
    heading_deg: FloatArray
    altitude_m: FloatArray
    page: TextArray
    mono_ms: FloatArray


@dataclass(frozen=True, slots=True)
class Event:
    """One tap. ``corrects`` is the id of an event this one replaces; ``withdraws`` says that
    it only takes that one back and reports nothing itself. ``page``: see ``Breadcrumbs``.
    """

    id: str
    device: str
    t_ms: int
    kind: str
    text: str | None = None
    value: float | None = None
    unit: str | None = None
    tap_delay: Delay | None = None
    corrects: str | None = None
    withdraws: bool = False
    page: str | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """What a display showed. With rounding ``nearest`` the truth lies within ± resolution/2,
    with ``down`` in [value, value + resolution); said ``about``, within ± one unit of the last
    digit. A correction with ``value`` None withdraws.
    """

    id: str
    device: str
    t_ms: int
    quantity: str
    value: float | None
    unit: str
    resolution: float | None = None
    rounding: Rounding = "nearest"
    source: str | None = None
    photo: str | None = None
    corrects: str | None = None
    page: str | None = None
    about: bool = False

    @property
    def withdraws(self) -> bool:
        """Whether it only takes back the one it corrects."""
        return self.value is None


@dataclass(frozen=True, slots=True, eq=False)
class PowerLog:
    """What a recorder in the car logged of the pack; every array has shape (n,).

    ``t_ms`` never goes back. Current and power are positive out of the pack, negative into it.
    NaN is 'not known'.
    """

    device: str
    label: str | None
    t_ms: IntArray
    voltage_v: FloatArray
    current_a: FloatArray
    power_kw: FloatArray
    speed_mps: FloatArray
    soc_pct: FloatArray


@dataclass(frozen=True, slots=True)
class Exclusion:
    """Fixes and rows of a log of one device that somebody chose not to use.

    By session time, both ends included.
    """

    device: str
    from_ms: float
    to_ms: float
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Session:
    """One session's whole evidence, as the measuring core takes it."""

    id: str
    title: str | None = None
    vehicle: Vehicle = Vehicle()
    protocol: Protocol = Protocol()
    course: Course = Course()
    devices: tuple[Device, ...] = ()
    breadcrumbs: tuple[Breadcrumbs, ...] = ()
    events: tuple[Event, ...] = ()
    readings: tuple[Reading, ...] = ()
    logs: tuple[PowerLog, ...] = ()
    excluded: tuple[Exclusion, ...] = ()


# --- result -------------------------------------------------------------------------------


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
    """Something the reader of the figures must know. ``where`` names the evidence."""

    severity: Severity
    code: str
    message: str
    where: str


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
    moment (session time, milliseconds since the epoch).
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


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """A curve with its 95 % band; arrays of one shape (n,), NaN where not known."""

    value: FloatArray
    low: FloatArray
    high: FloatArray

    @classmethod
    def empty(cls) -> Band:
        """A band without points."""
        return cls(np.empty(0), np.empty(0), np.empty(0))


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """What the desk draws: the derived line of the run on one time base, shape (n,).

    ``t_ms`` is session time. ``distance_m`` counts from the first fix, ``past_zero_m`` and
    ``energy_past_zero_kwh`` from zero (all NaN when there is no zero). ``in_gap`` marks points
    bridged without fixes. The recharge curve has a base of its own, shape (k,), and so have the
    log's energy past zero, shape (m,), the power at full throttle over energy past zero, shape
    (f,), and what the display showed while charging: power, shape (p,), and energy, shape (e,),
    each with all that the figure can have meant. So has the power that the display said was
    available, shape (a,), over time and energy past zero, in kW or in % of full power.
    """

    t_ms: IntArray
    lat: FloatArray
    lon: FloatArray
    speed_mps: Band
    distance_m: Band
    past_zero_m: Band
    energy_past_zero_kwh: Band
    in_gap: BoolArray
    recharge_t_ms: IntArray
    recharge_energy_kwh: Band
    recharge_power_kw: Band
    log_t_ms: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    log_energy_kwh: Band = field(default_factory=Band.empty)
    fade_energy_kwh: FloatArray = field(default_factory=lambda: np.empty(0))
    fade_power_kw: Band = field(default_factory=Band.empty)
    shown_t_ms: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    shown_power_kw: Band = field(default_factory=Band.empty)
    counted_t_ms: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    counted_energy_kwh: Band = field(default_factory=Band.empty)
    available_t_ms: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    available_energy_kwh: FloatArray = field(default_factory=lambda: np.empty(0))
    available_power_kw: Band = field(default_factory=Band.empty)
    available_share_pct: Band = field(default_factory=Band.empty)


@dataclass(frozen=True, slots=True, eq=False)
class Analysis:
    """A result and the curves behind it: one run of the core gives both."""

    result: Result
    curves: Curves
