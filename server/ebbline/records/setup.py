"""What is stated before and after a drive: car, course, protocol, devices."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ebbline.vocabulary import ReserveEnd, WhichEnd, ZeroBasis

FilmPlacedBy = Literal["film_sync", "started_at", "nothing"]


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
    """A recorder and the offset of its clock: add it to the device's ``t_ms``.

    ``first_frame_by``: what placed a film whose records counted from its first frame; else None.
    """

    id: str
    label: str | None = None
    clock_offset_ms: float = 0.0
    clock_offset_sd_ms: float = 0.0
    first_frame_by: FilmPlacedBy | None = None
