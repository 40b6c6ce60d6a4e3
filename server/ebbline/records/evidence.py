"""What was observed, never what was computed from it: fixes, events, readings, logs."""

from __future__ import annotations

from dataclasses import dataclass, field

from ebbline.records.arrays import FloatArray, IntArray, TextArray
from ebbline.records.setup import Course, Delay, Device, Protocol, Vehicle
from ebbline.vocabulary import Rounding


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
    ``warning_class``: which of the vocabulary's classes the words of a warning belong to.
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
    warning_class: str | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """What a display showed. With rounding ``nearest`` the truth lies within ± resolution/2,
    with ``down`` in [value, value + resolution); said ``about``, within ± one unit of the last
    digit. With ``t_to_ms`` the display was seen: it showed ``changed_from``, if that is known, at
    ``t_ms``, and ``value`` at ``t_to_ms``. A correction with ``value`` None withdraws.
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
    changed_from: float | None = None
    t_to_ms: int | None = None

    @property
    def seen(self) -> bool:
        """Whether a picture or a film tells its moment, nobody's hand."""
        return self.photo is not None or self.t_to_ms is not None

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
    vehicle: Vehicle = field(default_factory=Vehicle)
    protocol: Protocol = field(default_factory=Protocol)
    course: Course = field(default_factory=Course)
    devices: tuple[Device, ...] = ()
    breadcrumbs: tuple[Breadcrumbs, ...] = ()
    events: tuple[Event, ...] = ()
    readings: tuple[Reading, ...] = ()
    logs: tuple[PowerLog, ...] = ()
    excluded: tuple[Exclusion, ...] = ()
