"""The invented campaign: a dozen cars driven to the end, with known truth.

The reserve of a car is a fixed amount and a share of its pack, from which cars differ: what a
campaign is to find out. Two cars are driven again, one of them with other software; one shuts down
before zero; one drive is broken off. Positions are sparse, so that the files stay small.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from sample import Sample
from simulator import setup
from simulator.car import Car
from simulator.course import Course
from simulator.display import Display
from simulator.drive import Happening, Plan, drive
from simulator.invented import CAR_A, SEED, course_one, falling_steps
from simulator.receiver import Receiver, receive
from simulator.recharge import ChargePlan, recharge
from simulator.recorder import Clock, Notebook, Passenger, breadcrumbs
from simulator.truth import World, truth_document

FIXED_KWH = 0.7  # of every car's reserve
SHARE_PCT = 1.0  # of its usable energy besides
BETWEEN_CARS_SD_KWH = 0.06  # what cars differ by from that
FIRST_DAY_MS = 1_760_344_200_000  # 2025-10-13T08:30Z
DAY_MS = 86_400_000

_FIX_EVERY_S = 4.0
_STARTS_AT_PCT = 2.9
_LOAD_KG = 160.0
_FALLS_AT = (0.08, 0.50, 0.68, 0.84)  # of the reserve
# What these cars say, and its class: by how much of the reserve is used (below 0: before zero).
_WARNINGS = (
    (-0.9, "battery low, charge soon", "charge_soon"),
    (0.05, "power reduced", "power_reduced"),
    (0.62, "stop safely, charge now", "stop_soon"),
    (0.90, "switching off", "shutting_down"),
)


@dataclass(frozen=True, slots=True)
class Entry:
    """One drive of one car. ``off_kwh``: how far this car is from what packs of its size have."""

    name: str
    car: str
    day: int
    usable_kwh: float
    chemistry: str
    odometer_km: float
    ambient_c: float
    off_kwh: float
    lender: str
    software: str = "1.0"
    wind_mps: float = 2.0
    surface: str = "dry"
    shuts_down_at_pct: float | None = None
    broken_off_at_m: float | None = None

    @property
    def reserve_kwh(self) -> float:
        """From 0 % shown to the end of propulsion."""
        return FIXED_KWH + SHARE_PCT / 100 * self.usable_kwh + self.off_kwh

    @property
    def to_the_end(self) -> bool:
        """Whether it came past zero."""
        return self.shuts_down_at_pct is None and self.broken_off_at_m is None


_OWNER, _HIRED, _MAKER = "its invented owner", "an invented hire firm", "its invented maker"
_SEVEN = Entry("car-07", "Campaign car 7", 7, 64.0, "NMC", 12_260, 12.0, -0.075, _OWNER)
_NINE = Entry("car-09", "Campaign car 9", 9, 75.0, "LFP", 22_600, 6.0, -0.035, _OWNER)
_THREE = Entry("car-03", "Campaign car 3", 2, 50.0, "LFP", 2_930, 13.0, 0.015, _MAKER)
ENTRIES = (
    Entry("car-01", "Campaign car 1", 0, 38.0, "LFP", 4_210, 14.0, 0.04, _HIRED),
    Entry("car-02", "Campaign car 2", 1, 44.5, "NMC", 18_400, 11.0, -0.055, _OWNER, wind_mps=3.5),
    _THREE,
    Entry("car-04", "Campaign car 4", 3, 52.0, "NMC", 31_050, 15.0, -0.02, _OWNER),
    Entry("car-05", "Campaign car 5", 4, 57.5, "LFP", 7_780, 8.0, 0.075, _HIRED, wind_mps=1.0),
    Entry(
        "car-06", "Campaign car 6", 5, 60.0, "NMC", 14_900, 12.0, 0.0, _OWNER, shuts_down_at_pct=1.6
    ),
    _SEVEN,
    Entry("car-08", "Campaign car 8", 8, 71.0, "NMC", 5_480, 10.0, 0.06, _HIRED, wind_mps=3.0),
    replace(
        _NINE, name="car-09-broken-off", day=8, odometer_km=22_580, ambient_c=5.0, surface="wet",
        broken_off_at_m=4200.0,
    ),
    _NINE,
    Entry("car-10", "Campaign car 10", 10, 82.0, "NMC", 9_020, 9.0, 0.03, _MAKER, wind_mps=1.5),
    Entry("car-11", "Campaign car 11", 11, 90.0, "NMC", 15_700, 8.0, -0.07, _OWNER),
    Entry("car-12", "Campaign car 12", 14, 96.0, "NMC", 3_340, 7.0, 0.09, _MAKER, wind_mps=2.5),
    replace(_THREE, name="car-03-again", day=15, odometer_km=2_990, ambient_c=10.0),
    replace(
        _SEVEN, name="car-07-software-1.4", day=112, odometer_km=20_510, ambient_c=4.0,
        off_kwh=-0.245, software="1.4",
    ),
)  # fmt: skip


def campaign(seed: int = SEED) -> Iterator[Sample]:
    """Every session of the campaign, each with its own truth."""
    course = course_one()
    for number, entry in enumerate(ENTRIES):
        yield _driven(entry, course, np.random.default_rng([seed, 100 + number]))


def definition(sessions: Sequence[Sample]) -> dict[str, Any]:
    """What is compared, and what isn't and why."""
    ids = {sample.name: sample.session["session"]["id"] for sample in sessions}
    left_out = {
        entry.name: "Broken off before zero: rain had come, and the course was to be left."
        for entry in ENTRIES
        if entry.broken_off_at_m is not None
    }
    return {
        "name": "Twelve invented cars",
        "notes": "Invented, as is all that the samples tell. Car 3 was driven again after two "
        "weeks, car 7 after an update of its software. Car 6 shut down before zero: leave it out "
        "to see what one car decides.",
        "zero_basis": "zero_soc",
        "reserve_end": "propulsion_off",
        "session_ids": [ids[name] for name in ids if name not in left_out],
        "left_out": [{"session_id": ids[name], "why": why} for name, why in left_out.items()],
        "tested_by": "Track crew A",
    }


def truth(sessions: Sequence[Sample]) -> dict[str, Any]:
    """The rule that the cars were made by, and the reserve of each session."""
    return {
        "truth_of": "campaign",
        "invented": True,
        "rule": {
            "model": "mixed",
            "fixed_kwh": FIXED_KWH,
            "share_pct": SHARE_PCT,
            "between_cars_sd_kwh": BETWEEN_CARS_SD_KWH,
        },
        "sessions": [
            _reserve(entry, sample) for entry, sample in zip(ENTRIES, sessions, strict=True)
        ],
    }


def _reserve(entry: Entry, sample: Sample) -> dict[str, Any]:
    """What one session truly says; negative where the car shut down before zero."""
    reserve = sample.truth["reserve"] or {}
    energy_kwh = reserve.get("energy_kwh")
    if entry.shuts_down_at_pct is not None:
        missing_pct = CAR_A.shown_zero_below_pct - entry.shuts_down_at_pct
        energy_kwh = round(missing_pct / 100 * entry.usable_kwh, 6)
    return {
        "name": sample.name,
        "session_id": sample.session["session"]["id"],
        "vehicle": entry.car,
        "usable_kwh": entry.usable_kwh,
        "reserve_kwh": energy_kwh,
        "reserve_m": reserve.get("distance_m"),
        "shut_down_before_zero": entry.shuts_down_at_pct is not None,
    }


def _driven(entry: Entry, course: Course, rng: np.random.Generator) -> Sample:
    start_ms = FIRST_DAY_MS + entry.day * DAY_MS
    car, plan = _car(entry), _plan(entry)
    driven = drive(course, car, plan, rng)
    charge = None
    if entry.to_the_end:
        trickle_s = 160.0 + 1.5 * entry.usable_kwh
        charge_plan = ChargePlan(
            trickle_kw=1.2 + 0.02 * entry.usable_kwh, trickle_s=trickle_s, until_soc_pct=2.2
        )
        charge = recharge(car, driven, charge_plan, rng)
    zero_s, end_s = driven.when("zero_soc"), float(driven.t_s[-1])
    reset_s = 20.0 if zero_s is None else zero_s + 9.0
    world = World(course, car, driven, start_ms, charge, reset_s)
    receiver = Receiver(wandering_m=2.2, time_constant_s=80.0, white_m=0.3, interval_s=_FIX_EVERY_S)
    clock = Clock(start_ms, offset_ms=-240.0)
    fixes = receive(course, driven, end_s + 60.0, receiver, rng)
    display = Display(car, driven, charge, reset_s, odometer_m=1000 * entry.odometer_km)
    name = f"campaign/{entry.name}"
    classes = {text: class_ for _, text, class_ in _WARNINGS}
    notes = Notebook(name, display, {"phone-1": clock}, Passenger(), rng, classes)
    happenings = [*driven.happenings, Happening("trip_reset", reset_s)]
    happenings += charge.happenings if charge else ()
    for happening in sorted(happenings, key=lambda happening: happening.t_s):
        notes.tap(happening)
    _read(notes, zero_s, driven.when("propulsion_off") or end_s, reset_s)
    if charge:
        for t_s in np.linspace(charge.start_s + 30.0, charge.t_s[-1] - 20.0, 14).tolist():
            notes.read("charge_energy", t_s)
            notes.read("charge_power", t_s + 4.0)
    session = {
        **setup.head(name, f"{entry.car}: {_what(entry)}", start_ms),
        "vehicle": _vehicle(entry, car),
        "conditions": _conditions(entry, plan),
        "protocol": {**setup.protocol(), "charging_efficiency": car.charging_efficiency},
        "course": setup.surveyed(course),
        "devices": [setup.phone(clock_offset_ms=-228)],
        "breadcrumbs": breadcrumbs(fixes, clock, "phone-1"),
        **setup.noted(notes),
    }
    return Sample(entry.name, session, truth_document(world, notes, receiver))


def _what(entry: Entry) -> str:
    if entry.broken_off_at_m is not None:
        return "broken off"
    if entry.name.endswith("again"):
        return "driven again"
    return "to the end" if entry.software == "1.0" else f"software {entry.software}"


def _car(entry: Entry) -> Car:
    """The larger the pack, the heavier and stronger the car."""
    more_kwh, reserve_kwh = entry.usable_kwh - 58.0, entry.reserve_kwh
    strength = (entry.usable_kwh / 58.0) ** 0.3
    fades, _ = falling_steps(*(share * reserve_kwh for share in _FALLS_AT))
    return replace(
        CAR_A,
        usable_kwh=entry.usable_kwh,
        a_n=round(118.0 + 0.6 * more_kwh, 2),
        c_n_per_mps2=round(0.43 + 0.0015 * more_kwh, 4),
        mass_kg=round(1850.0 + 7 * more_kwh, -1),
        start_soc_pct=_STARTS_AT_PCT,
        reserve_kwh=reserve_kwh,
        fades=tuple(replace(fade, power_kw=fade.power_kw * strength) for fade in fades),
        warnings=tuple((share * reserve_kwh, text) for share, text, _ in _WARNINGS),
        shut_down_at_soc_pct=entry.shuts_down_at_pct,
    )


def _plan(entry: Entry) -> Plan:
    _, floored = falling_steps(*(share * entry.reserve_kwh for share in _FALLS_AT))
    return Plan(
        start_m=-500.0,
        floored=floored,
        stop_at_m=entry.broken_off_at_m,
        wind_mps=entry.wind_mps,
    )


def _vehicle(entry: Entry, car: Car) -> dict[str, Any]:
    stated = setup.vehicle(
        entry.car,
        car,
        road_load=True,
        odometer_km=entry.odometer_km,
        software=entry.software,
        chemistry=entry.chemistry,
    )
    return {**stated, "mass_kg": car.mass_kg, "lender": entry.lender}


def _conditions(entry: Entry, plan: Plan) -> dict[str, Any]:
    return {
        **setup.conditions(entry.ambient_c, entry.surface),
        "road_c": entry.ambient_c + 2.0,
        "pack_c": 16.0 + round(entry.ambient_c / 2),
        "wind_mps": plan.wind_mps,
        "wind_from_deg": plan.wind_from_deg,
        "load_kg": _LOAD_KG,
        "tyre_kpa": 290,
        "charger": "alternating current, 11 kW",
        "disclosure": "Nobody paid for this drive; the car went back afterwards.",
    }


def _read(notes: Notebook, zero_s: float | None, off_s: float, reset_s: float) -> None:
    """What a passenger manages to note of the display on the way down."""
    for t_s in np.arange(reset_s + 60.0, off_s, 90.0).tolist():
        notes.read("trip_energy", t_s)
        notes.read("trip_distance", t_s + 6.0)
    if zero_s is None:
        for t_s in np.arange(100.0, off_s, 150.0).tolist():
            notes.read("soc", t_s)
    notes.read("trip_energy", off_s + 25.0)
    notes.read("trip_distance", float(notes.display.drive.t_s[-1]) - 30.0)
