"""The settings of the study: how good the evidence is, and what goes wrong with it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

EVERYWHERE = ((-1.0, 1e9),)


@dataclass(frozen=True, slots=True)
class Setting:
    """One way in which a session may have been recorded. Times in seconds."""

    name: str
    about: str
    # the receiver
    interval_s: float = 1.0
    doppler: bool = True
    sigma_m: float = 3.0
    time_constant_s: float = 60.0
    dropouts: int = 0  # of 5 to 60 s each, while driving
    speedless: int = 0  # stretches of 60 to 300 s without speeds
    double_share: float = 0.0
    late_share: float = 0.0
    outlier_share: float = 0.0
    # the course
    surveyed: bool = True
    gate_known: bool = True
    shape: Literal["five-cornered", "figure-of-eight"] = "five-cornered"
    way: Literal["as the gate says", "against it"] = "as the gate says"
    start_m: float = -60.0  # from the gate
    pit_lap: int | None = None  # the gate passed this many times before it is passed in the pits
    # the passenger and the phones
    late_taps_s: tuple[float, float] | None = None  # even; else normal, as the protocol says
    delay_told: bool = True
    noting_s: tuple[float, float] | None = None
    noting_told: bool = False  # typed, not on the pad at once; and in protocol.reading_delay_s
    clock_set: Literal["no", "forward", "back"] = "no"
    pages_told: bool = False
    second_phone: bool = False
    # the car and its display
    rounding: Literal["nearest", "down"] = "nearest"
    per_cent_only: bool = False
    regeneration: float = 0.62
    road_load_known: bool = True


def _all_settings() -> tuple[Setting, ...]:
    usual = Setting("usual", "1 Hz with Doppler speeds, 3 m, 60 s; surveyed lap; all told")

    def but(name: str, about: str, **changes: object) -> Setting:
        return replace(usual, name=name, about=about, **changes)  # type: ignore[arg-type]

    free = replace(usual, surveyed=False)
    return (
        usual,
        replace(free, name="no-survey", about="as usual, but no surveyed lap"),
        but("no-doppler", "1 Hz without speeds; surveyed lap", doppler=False),
        replace(
            free, name="no-doppler-no-survey", about="1 Hz, no speeds, no survey", doppler=False
        ),
        replace(
            free, name="ten-hertz", about="10 Hz with Doppler speeds, no survey", interval_s=0.1
        ),
        replace(free, name="sigma-1m", about="no survey, drift of 1 m", sigma_m=1.0),
        replace(free, name="sigma-5m", about="no survey, drift of 5 m", sigma_m=5.0),
        replace(free, name="time-constant-20s", about="no survey, 20 s", time_constant_s=20.0),
        replace(free, name="time-constant-200s", about="no survey, 200 s", time_constant_s=200.0),
        replace(
            free,
            name="no-doppler-5m-20s",
            about="no speeds, no survey, a quick drift of 5 m: the worst receiver",
            doppler=False,
            sigma_m=5.0,
            time_constant_s=20.0,
        ),
        but("dropouts", "three dropouts of 5 to 60 s while driving", dropouts=3),
        replace(free, name="dropouts-no-survey", about="dropouts without a survey", dropouts=3),
        but(
            "rough-delivery",
            "3 % doubles, 2 % out of order, 1 % outliers of 20 to 200 m",
            double_share=0.03,
            late_share=0.02,
            outlier_share=0.01,
        ),
        but("null-speeds", "two stretches of 60 to 300 s without speeds", speedless=2),
        but("clock-forward", "the phone's clock is set forward while driving", clock_set="forward"),
        but(
            "clock-back",
            "the clock is set back while driving, as a recorder that tells no page loads has it",
            clock_set="back",
        ),
        but(
            "clock-back-reload",
            "the clock is set back while driving and our page loads anew",
            clock_set="back",
            pages_told=True,
        ),
        but("late-taps", "taps 0.3 to 2 s late, told as 1.15 ± 0.49 s", late_taps_s=(0.3, 2.0)),
        but(
            "late-taps-untold",
            "taps 0.3 to 2 s late, nothing told",
            late_taps_s=(0.3, 2.0),
            delay_told=False,
        ),
        but("quick-taps-untold", "taps 0.9 ± 0.4 s late, nothing told", delay_told=False),
        but(
            "slow-taps-untold",
            "taps 1 to 3 s late, nothing told",
            late_taps_s=(1.0, 3.0),
            delay_told=False,
        ),
        but("display-cuts", "the display cuts instead of rounding", rounding="down"),
        but("per-cent-only", "the display shows whole per cent and no energy", per_cent_only=True),
        but("regeneration-strong", "braking gives 85 % back", regeneration=0.85),
        but("regeneration-weak", "braking gives 20 % back", regeneration=0.2),
        but("noted-late", "readings noted 0 to 20 s late, untold", noting_s=(0.0, 20.0)),
        but(
            "noted-late-told",
            "readings noted 0 to 20 s late, marked as typed; the protocol says so",
            noting_s=(0.0, 20.0),
            noting_told=True,
        ),
        but("road-load-unknown", "the file states no road load", road_load_known=False),
        but("figure-of-eight", "a course that crosses itself", shape="figure-of-eight"),
        but("other-way", "driven against the gate's heading", way="against it"),
        but("partial-first-lap", "begins half a lap before the gate", start_m=-1300.0),
        but("pit-entry", "once through the pits, 25 m aside, with a stop", pit_lap=2),
        but("unknown-gate", "a surveyed lap, but no gate given", gate_known=False),
        but("two-phones", "two phones, seconds apart and drifting", second_phone=True),
    )


SETTINGS: dict[str, Setting] = {setting.name: setting for setting in _all_settings()}
