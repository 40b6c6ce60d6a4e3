"""Two invented sessions that a camera saw: one beside the phone, and one that nobody else did."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from sample import Sample
from simulator import setup
from simulator.display import Display
from simulator.drive import Happening, Plan, Restart, drive
from simulator.invented import CAR_A, SEED, course_one, falling_steps
from simulator.receiver import Receiver, receive
from simulator.recharge import ChargePlan, recharge
from simulator.recorder import Clock, Notebook, Passenger, breadcrumbs
from simulator.truth import World, truth_document, without_positions

FILM = "film-1"
CAMERA = "dash"
FRAME_S = 1 / setup.FRAME_RATE
FILMED_FROM_S = 130.0  # on the way
CUT_SHARE = 0.2  # of the changes on a film that was cut
CUT_S = (0.5, 6.0)  # what a cut leaves out
CLASSES = {
    "battery low, charge soon": "charge_soon",
    "battery very low, power may be reduced": "charge_now",
    "power reduced": "power_reduced",
    "stop safely, charge now": "stop_now",
    "about to switch off": "shutting_down",
}


def film_and_phone(seed: int = SEED) -> Sample:
    """A phone's track, a film tied to it by two claps, and photos of the display."""
    rng = np.random.default_rng([seed, 5])
    course, start_ms = course_one(), 1_772_791_200_000  # 2026-03-06T10:00Z
    fades, floored = falling_steps(0.06, 0.42, 0.56, 0.67)
    car = replace(CAR_A, fades=fades, start_soc_pct=3.6, meter_ratio=1.001)
    driven = drive(course, car, Plan(floored=floored), rng)
    charge = recharge(car, driven, ChargePlan(trickle_s=200.0, until_soc_pct=3.2), rng)
    zero_s, off_s = driven.moment_of("zero_soc"), driven.moment_of("propulsion_off")
    reset_s, end_s = zero_s + 11.0, float(driven.t_s[-1])
    world = World(course, car, driven, start_ms, charge, reset_s)
    receiver = Receiver(wandering_m=2.4, time_constant_s=70.0, white_m=0.3)
    film_from_s = 25.0
    clocks = {"phone-1": Clock(start_ms, offset_ms=180.0)}
    fixes = receive(course, driven, charge.plug_in_s + 60.0, receiver, rng)
    display = Display(car, driven, charge, reset_s)
    notes = Notebook("film-and-phone", display, clocks, Passenger(), rng, CLASSES)
    claps = [
        Happening("film_sync", t_s, round(t_s - film_from_s, 2), "s", CAMERA)
        for t_s in (40.0, end_s - 15.0)
    ]
    happenings = [
        *driven.happenings,
        Happening("trip_reset", reset_s),
        Happening("hazards_on", off_s + 3.5),
        *claps,
        *charge.happenings,
    ]
    phone = setup.phone(clock_offset_ms=169)
    first_frame_ms = []
    for happening in sorted(happenings, key=lambda happening: happening.t_s):
        event = notes.tap(happening)
        if happening in claps:
            tapped_ms = event["t_ms"] + phone["clock_offset_ms"]
            late_ms = 1000 * setup.TAP_DELAY_S["mean"]
            first_frame_ms.append(tapped_ms - late_ms - 1000 * event["value"])
    off_ms = start_ms + 1000 * film_from_s - float(np.mean(first_frame_ms))
    clocks[FILM] = Clock(start_ms, off_ms)  # as the claps have it
    for event in [event for event in notes.events if event["kind"] in ("zero_soc", "warning")]:
        notes.look_up(event, FILM)
    for quantity, times in (("trip_energy", 14), ("trip_distance", 10)):
        for t_s in _rises_s(display, quantity, film_from_s + 5, end_s, times):
            notes.see_change(quantity, t_s, FRAME_S, FILM)
    for t_s in np.arange(reset_s + 80.0, off_s, 90.0).tolist():
        notes.read("power_available", t_s)
    for t_s in (zero_s - 140.0, reset_s + 150.0, off_s + 30.0):
        notes.photograph(("trip_energy", "trip_distance", "soc"), t_s)
    for t_s in np.linspace(charge.start_s + 30.0, charge.t_s[-1] - 40.0, 14).tolist():
        notes.read("charge_energy", t_s)
        notes.read("charge_power", t_s + 4.0)
    notes.photograph(("charge_energy", "charge_power", "soc"), float(charge.t_s[-1]) - 15.0)
    clap_sd_ms = float(np.hypot(1000 * setup.TAP_DELAY_S["sd"], setup.CLOCK_SD_MS))
    session = {
        **setup.head("film-and-phone", "Sample: Phone, film and photos", start_ms),
        "vehicle": setup.vehicle("Sample car A", car, road_load=True),
        "conditions": setup.conditions(),
        "protocol": {**setup.protocol(), "charging_efficiency": car.charging_efficiency},
        "course": setup.surveyed(course),
        "devices": [phone, setup.film(CAMERA, clap_sd_ms / len(claps) ** 0.5)],
        "breadcrumbs": breadcrumbs(fixes, clocks["phone-1"], "phone-1"),
        **setup.noted(notes),
    }
    truth = truth_document(world, notes, receiver)
    return Sample("film-and-phone", session, truth, notes.pictures)


def film_only(seed: int = SEED) -> Sample:
    """Nobody recorded a position; a film that was cut shows the display."""
    rng = np.random.default_rng([seed, 6])
    course, start_ms = course_one(), 1_772_889_600_000  # 2026-03-07T13:20Z
    fades, _ = falling_steps(0.08, 0.50, 0.68, 0.80)
    car = replace(
        CAR_A,
        usable_kwh=51.0,
        a_n=125.0,
        start_soc_pct=3.4,
        reserve_kwh=0.93,
        meter_ratio=0.996,
        fades=fades,
        warnings=(
            (-0.7, "battery low, charge soon"),
            (0.08, "power reduced"),
            (0.74, "stop safely, charge now"),
        ),
    )
    driven = drive(course, car, Plan(restart=Restart(after_s=45.0, gives_kwh=0.0)), rng)
    charge = recharge(car, driven, ChargePlan(trickle_kw=1.4, until_soc_pct=3.2), rng)
    zero_s, end_s = driven.moment_of("zero_soc"), float(driven.t_s[-1])
    reset_s = zero_s + 6.0
    world = World(course, car, driven, start_ms, charge, reset_s)
    display = Display(car, driven, charge, reset_s)
    clocks = {FILM: Clock(start_ms)}  # session time is the film's own
    notes = Notebook("film-only", display, clocks, Passenger(), rng, CLASSES)
    happenings = [*driven.happenings, Happening("trip_reset", reset_s), *charge.happenings]
    for happening in sorted(happenings, key=lambda happening: happening.t_s):
        notes.see_on_film(happening, FILM)
    for quantity, times, from_s, to_s in (
        ("trip_energy", 30, FILMED_FROM_S, end_s),
        ("trip_distance", 40, FILMED_FROM_S, end_s),
        ("charge_energy", 10, charge.start_s, float(charge.t_s[-1])),
    ):
        for t_s in _rises_s(display, quantity, from_s, to_s, times):
            was_cut = float(rng.random()) < CUT_SHARE
            unseen_s = float(rng.uniform(*CUT_S)) if was_cut else FRAME_S
            notes.see_change(quantity, t_s, unseen_s, FILM)
    for quantity in ("trip_energy", "trip_distance"):
        notes.read_from_film(quantity, end_s - 20.0, FILM)
    for t_s in np.linspace(charge.start_s + 30.0, charge.t_s[-1] - 20.0, 12).tolist():
        notes.read_from_film("charge_power", t_s, FILM)
    session = {
        **setup.head("film-only", "Sample: Known only from film", start_ms),
        "vehicle": setup.vehicle("Sample car C", car, road_load=False, chemistry="LFP"),
        "conditions": {"ambient_c": 7.0, "surface": "dry"},
        "protocol": {
            "tap_delay_s": {"mean": 0.0, "sd": 0.1},  # frame by frame
            "zero_basis": "zero_soc",
            "charging_efficiency": car.charging_efficiency,
        },
        "course": {"label": "Course One", "closed": True},
        "devices": [setup.film(CAMERA)],
        "breadcrumbs": [],
        **setup.noted(notes),
    }
    truth = truth_document(world, notes, Receiver(), gate_is_known=False)
    return Sample("film-only", session, without_positions(truth))


def _rises_s(
    display: Display, quantity: str, from_s: float, to_s: float, times: int
) -> list[float]:
    """When a figure rose: so many times, evenly, the first and the last among them. One that a cut
    may undo, since braking gave back what was drawn, is not among them.
    """
    around_s = np.arange(1.0, CUT_S[1] + 1)
    rises_s = [
        t_s
        for t_s in display.changes_s(quantity, from_s, to_s)
        if all(
            display.show(quantity, t_s - s).value < display.show(quantity, t_s).value
            and display.show(quantity, t_s + s).value >= display.show(quantity, t_s).value
            for s in around_s.tolist()
        )
    ]
    chosen = np.unique(np.linspace(0, len(rises_s) - 1, times).round().astype(int))
    return [rises_s[k] for k in chosen.tolist()]


FILMED: tuple[Callable[..., Sample], ...] = (film_and_phone, film_only)
