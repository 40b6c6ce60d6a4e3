"""The settings of the study, by what they put to the test."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from .setting import Hidden, Setting

_USUAL = Setting("usual", "1 Hz with Doppler speeds, 3 m, 60 s; surveyed lap; all told")


def _but(name: str, about: str, **changes: Any) -> Setting:
    return replace(_USUAL, name=name, about=about, **changes)


def _free(name: str, about: str, **changes: Any) -> Setting:
    """Without a surveyed lap, which would hide what the track is worth."""
    return _but(name, about, surveyed=False, **changes)


def _as_from_our_simulator() -> tuple[Setting, ...]:
    """Noise that is white and first-order, taps and readings as a careful passenger makes them."""
    return (
        _USUAL,
        _free("no-survey", "as usual, but no surveyed lap"),
        _but("no-doppler", "1 Hz without speeds; surveyed lap", doppler=False),
        _free("no-doppler-no-survey", "1 Hz, no speeds, no survey", doppler=False),
        _free("ten-hertz", "10 Hz with Doppler speeds, no survey", interval_s=0.1),
        _free("sigma-1m", "no survey, drift of 1 m", sigma_m=1.0),
        _free("sigma-5m", "no survey, drift of 5 m", sigma_m=5.0),
        _free("time-constant-20s", "no survey, 20 s", time_constant_s=20.0),
        _free("time-constant-200s", "no survey, 200 s", time_constant_s=200.0),
        _free(
            "no-doppler-5m-20s",
            "no speeds, no survey, a quick drift of 5 m: the worst receiver",
            doppler=False,
            sigma_m=5.0,
            time_constant_s=20.0,
        ),
        _but("dropouts", "three dropouts of 5 to 60 s while driving", dropouts=3),
        _free("dropouts-no-survey", "dropouts without a survey", dropouts=3),
        _but(
            "rough-delivery",
            "3 % doubles, 2 % out of order, 1 % outliers of 20 to 200 m",
            double_share=0.03,
            late_share=0.02,
            outlier_share=0.01,
        ),
        _but("null-speeds", "two stretches of 60 to 300 s without speeds", speedless=2),
        _but(
            "clock-forward", "the phone's clock is set forward while driving", clock_set="forward"
        ),
        _but(
            "clock-back",
            "the clock is set back while driving, as a recorder that tells no page loads has it",
            clock_set="back",
        ),
        _but(
            "clock-back-reload",
            "the clock is set back while driving and our page loads anew",
            clock_set="back",
            pages_told=True,
        ),
        _but("late-taps", "taps 0.3 to 2 s late, told as 1.15 ± 0.49 s", late_taps_s=(0.3, 2.0)),
        _but(
            "late-taps-untold",
            "taps 0.3 to 2 s late, nothing told",
            late_taps_s=(0.3, 2.0),
            delay_told=False,
        ),
        _but("quick-taps-untold", "taps 0.9 ± 0.4 s late, nothing told", delay_told=False),
        _but(
            "slow-taps-untold",
            "taps 1 to 3 s late, nothing told",
            late_taps_s=(1.0, 3.0),
            delay_told=False,
        ),
        _but("display-cuts", "the display cuts instead of rounding", rounding="down"),
        _but("per-cent-only", "the display shows whole per cent and no energy", per_cent_only=True),
        _but("regeneration-strong", "braking gives 85 % back", regeneration=0.85),
        _but("regeneration-weak", "braking gives 20 % back", regeneration=0.2),
        _but("noted-late", "readings noted 0 to 20 s late, untold", noting_s=(0.0, 20.0)),
        _but(
            "noted-late-told",
            "readings noted 0 to 20 s late, marked as typed; the protocol says so",
            noting_s=(0.0, 20.0),
            noting_told=True,
        ),
        _but("road-load-unknown", "the file states no road load", road_load_known=False),
        _but("figure-of-eight", "a course that crosses itself", shape="figure-of-eight"),
        _but("other-way", "driven against the gate's heading", way="against it"),
        _but("partial-first-lap", "begins half a lap before the gate", start_m=-1300.0),
        _but("pit-entry", "once through the pits, 25 m aside, with a stop", pit_lap=2),
        _but("unknown-gate", "a surveyed lap, but no gate given", gate_known=False),
        _but("two-phones", "two phones, seconds apart and drifting", second_phone=True),
    )


def _receivers() -> tuple[Setting, ...]:
    """Receivers as static logs and phones show them; no survey."""
    filtered = {"filtered_s": (60.0, 600.0), "claims": (0.5, 2.0)}
    slow = {"filtered_s": (600.0, 3000.0), "claims": (0.5, 2.0)}
    silent = {"doppler": False}
    return (
        _free(
            "filtered", "smooth errors that last 1 to 10 min, accuracy off by a factor", **filtered
        ),
        _free("filtered-no-speeds", "the same without speeds", **filtered, **silent),
        _free("filtered-slow", "smooth errors that last 10 to 50 min", **slow),
        _free("filtered-slow-no-speeds", "the same without speeds", **slow, **silent),
        _free(
            "filtered-sparse",
            "smooth errors, a fix every 5 to 7 s, no speeds",
            irregular_s=(5.0, 7.0),
            **filtered,
            **silent,
        ),
        _free("sparse", "a fix every 5 to 7 s, with Doppler speeds", irregular_s=(5.0, 7.0)),
        _free("sparse-no-speeds", "the same without", irregular_s=(5.0, 7.0), **silent),
        _free("irregular", "a fix every 0.5 to 10 s, with speeds", irregular_s=(0.5, 10.0)),
        _free("irregular-no-speeds", "the same without", irregular_s=(0.5, 10.0), **silent),
        _free(
            "claims-off",
            "no speeds, claimed accuracy 0.3 to 3 times the true one",
            claims=(0.3, 3.0),
            **silent,
        ),
        _free("no-claim", "no speeds, no claimed accuracy", claims=None, **silent),
        _free(
            "between-houses",
            "10 m off for 12 s at a time, no speeds, no claimed accuracy",
            sigma_m=10.0,
            time_constant_s=12.0,
            claims=None,
            **silent,
        ),
        _free("fused-speeds", "a phone's own speeds, up to 7 % off, late", fused_off_by=0.07),
        _free(
            "fused-speeds-filtered", "the same with smooth errors", fused_off_by=0.07, **filtered
        ),
    )


def _gaps() -> tuple[Setting, ...]:
    """The page was hidden, up to three times; a long way with stands; no survey."""
    kinds: tuple[tuple[Hidden, str], ...] = (
        ("driving", "5 s to 10 min of driving"),
        ("stand", "a stand of 4 s to 25 min, with what leads to it and away"),
        ("at rest", "most of a stand"),
        ("coast", "the last seconds before a stand, or the first after it"),
        ("crawl", "walking pace"),
    )
    alone = [
        _free(_hyphened("gap", kind), f"{what} without positions; no trip meter",
              long=True, hidden=kind, trip_distance="none")
        for kind, what in kinds
    ]  # fmt: skip
    between = [
        _free(_hyphened("gap", kind, "trip"), f"{what}, trip meter read on both sides",
              long=True, hidden=kind, trip_distance="around gaps")
        for kind, what in kinds
    ]  # fmt: skip
    return (
        *alone,
        *between,
        _but(
            "gap-stand-survey",
            "a stand without positions, a surveyed lap as ruler",
            long=True,
            hidden="stand",
            trip_distance="none",
        ),
        _free(
            "gap-stand-two-phones",
            "a stand without positions of the first phone; the second goes on",
            long=True,
            hidden="stand",
            trip_distance="none",
            second_phone=True,
        ),
        _free(
            "gap-last", "the last coasting without positions", hidden="last", trip_distance="none"
        ),
        _free("long", "the long way without any gap", long=True),
    )


def _hyphened(*words: str) -> str:
    return "-".join(words).replace(" ", "-")


def _without_positions() -> tuple[Setting, ...]:
    """Reserve and ladder from the trip meter."""
    none = {"positions": "none"}
    return (
        _free("no-positions", "no positions; trip reset at zero, read each minute", **none),
        _free(
            "no-positions-cuts",
            "the same, the energy display cuts, in miles",
            rounding="down",
            miles=True,
            **none,
        ),
        _free(
            "no-positions-late-reset",
            "trip reset 20 to 240 s after zero",
            reset_after_zero_s=(20.0, 240.0),
            **none,
        ),
        _free(
            "no-positions-reset-at-start", "trip reset at the start", reset_at_start=True, **none
        ),
        _free(
            "no-positions-few",
            "four pairs of trip readings, in miles",
            readings="few",
            miles=True,
            **none,
        ),
        _free(
            "no-positions-film",
            "events and changing figures from a film",
            readings="changes",
            **none,
        ),
        _free("first-part", "positions until some time past zero", positions="first part"),
        _free("last-part", "positions from some time past zero on", positions="last part"),
    )


def _recharges() -> tuple[Setting, ...]:
    """Few readings of a charge of 15 to 80 kW, to the whole kW; the drive is as usual."""
    quick = {"charge_kw": (15.0, 80.0), "charge_power_step_kw": 1.0}
    return (
        _but("recharge-2-1", "two powers on the trickle, one after", charge_powers=(2, 1), **quick),
        _but("recharge-1-1", "one power on the trickle, one after", charge_powers=(1, 1), **quick),
        _but("recharge-0-2", "two powers, both after the trickle", charge_powers=(0, 2), **quick),
        _but("recharge-3-2", "three on the trickle, two after", charge_powers=(3, 2), **quick),
    )


def _readings() -> tuple[Setting, ...]:
    return (
        _but(
            "about",
            "a third of the trip energies said roughly, to the whole kWh",
            about_share=0.35,
            long=True,
        ),
        _but("film-changes", "positions, and changing figures from a film", readings="changes"),
    )


def _ends() -> tuple[Setting, ...]:
    return (
        _but("restart", "it drives on after it stood, and ends a second time", restart="succeeded"),
        _but("restart-failed", "it refuses to drive on", restart="failed"),
    )


def _tracks() -> tuple[Setting, ...]:
    """A recorder's track brought in, on before and after, without accuracy."""
    off = {"imported_off_h": True}
    return (
        _free("track-hours-off", "the only track is whole hours off", imported="alone", **off),
        _free("track-hours-off-beside", "the same beside the phone's", imported="beside", **off),
        _free(
            "track-no-speeds-beside",
            "beside the phone's, right, without speeds",
            imported="beside",
            imported_speeds=False,
        ),
        _free("track-alone", "the only track, right", imported="alone"),
    )


GROUPS: dict[str, tuple[Setting, ...]] = {
    "simulator": _as_from_our_simulator(),
    "receivers": _receivers(),
    "gaps": _gaps(),
    "positions": _without_positions(),
    "recharge": _recharges(),
    "readings": _readings(),
    "ends": _ends(),
    "tracks": _tracks(),
}
SETTINGS: dict[str, Setting] = {
    setting.name: setting for group in GROUPS.values() for setting in group
}
