"""One way in which a session may have been driven and recorded."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Between = tuple[float, float]

# What a stretch without positions hides: steady driving, a stand with what leads to it and away
# from it, a stand alone, the last metres before or the first after one, a stretch at walking pace,
# and the last coasting of all.
Hidden = Literal["driving", "stand", "at rest", "coast", "crawl", "last"]


@dataclass(frozen=True, slots=True)
class Setting:
    """How good the evidence of a session is, and what goes wrong with it. Times in seconds."""

    name: str
    about: str
    # the receiver
    interval_s: float = 1.0
    irregular_s: Between | None = None  # steps of any length between, else even ones
    doppler: bool = True
    sigma_m: float = 3.0
    time_constant_s: float = 60.0
    filtered_s: Between | None = None  # smooth errors whose slow part lasts so long; else noise
    claims: Between | None = (1.0, 1.0)  # claimed accuracy over the true one; None: no claim
    fused_off_by: float = 0.0  # a phone's own speeds, up to such a share off; 0: Doppler speeds
    dropouts: int = 0  # of 5 to 60 s each, while driving
    hidden: Hidden | None = None  # stretches without positions, taps and readings
    speedless: int = 0  # stretches of 60 to 300 s without speeds
    positions: Literal["all", "none", "first part", "last part"] = "all"
    double_share: float = 0.0
    late_share: float = 0.0
    outlier_share: float = 0.0
    # another track beside, brought in from a recorder that shows no accuracy
    imported: Literal["no", "beside", "alone"] = "no"
    imported_speeds: bool = True
    imported_off_h: bool = False  # by some whole hours
    # the course and the drive
    surveyed: bool = True
    gate_known: bool = True
    shape: Literal["five-cornered", "figure-of-eight"] = "five-cornered"
    way: Literal["as the gate says", "against it"] = "as the gate says"
    start_m: float = -60.0  # from the gate
    pit_lap: int | None = None  # the gate passed this many times before it is passed in the pits
    long: bool = False  # thirty kilometres with stands and crawls among them
    restart: Literal["no", "failed", "succeeded"] = "no"
    # the passenger and the phones
    late_taps_s: Between | None = None  # even; else normal, as the protocol says
    delay_told: bool = True
    noting_s: Between | None = None
    noting_told: bool = False  # typed, not on the pad at once; and in protocol.reading_delay_s
    clock_set: Literal["no", "forward", "back"] = "no"
    pages_told: bool = False
    second_phone: bool = False
    # the car, its display and what is read of it
    rounding: Literal["nearest", "down"] = "nearest"
    per_cent_only: bool = False
    miles: bool = False
    regeneration: float = 0.62
    road_load_known: bool = True
    reset_after_zero_s: Between = (3.0, 15.0)
    reset_at_start: bool = False
    readings: Literal["usual", "few", "changes"] = "usual"  # changes: from a film, frame by frame
    trip_distance: Literal["usual", "none", "around gaps"] = "usual"
    about_share: float = 0.0  # of the trip energies said roughly, to a whole kWh
    # the recharge
    charge_kw: Between = (9.0, 11.0)
    charge_power_step_kw: float = 0.1
    charge_powers: tuple[int, int] | None = None  # readings on the trickle and afterwards; else 22
