"""What the passenger tapped and read, or somebody saw on a film afterwards."""

from __future__ import annotations

import numpy as np
from simulator.display import Display
from simulator.receiver import Span
from simulator.recorder import Clock, Notebook, Passenger
from simulator.truth import World

from .hidden import is_hidden
from .setting import Setting
from .world import at_s, happenings, rng_of

FILM = "film-1"
_CHANGES = 12  # of the trip energy and of the trip distance, each
_CUT_SHARE = 0.2  # of the changes that the film shows before and after a cut
_ENERGY = ("trip_energy", "mean_consumption")
_DISTANCE = ("trip_distance", "mean_consumption", "odometer")

Wanted = tuple[str, float]


def notes_of(
    setting: Setting,
    number: int,
    world: World,
    clocks: dict[str, Clock],
    hidden: tuple[Span, ...],
    rng: np.random.Generator,
) -> Notebook:
    """Everything noted in a session."""
    display = Display(
        world.car,
        world.drive,
        world.charge,
        world.trip_reset_s,
        unit="mi" if setting.miles else "km",
        energy_rounding=setting.rounding,
        charge_power_step_kw=setting.charge_power_step_kw,
    )
    passenger = Passenger(evenly_s=setting.late_taps_s, noting_s=setting.noting_s)
    notes = Notebook(f"study/{number}", display, clocks, passenger, rng_of(number, "taps"))
    if setting.readings == "changes":
        _from_film(notes, world, rng_of(number, "film"))
        return notes
    devices = list(clocks)
    for happening in happenings(world):
        device = devices[int(rng.integers(len(devices)))]
        if not is_hidden(happening.t_s, hidden):
            notes.tap(happening, device)
    source = "typed" if setting.noting_told else "pad"
    roughly = rng_of(number, "about")
    for quantity, t_s in _to_read(setting, number, world, hidden):
        device = devices[int(rng.integers(len(devices)))]
        if is_hidden(t_s, hidden):
            continue
        if quantity == "trip_energy" and roughly.random() < setting.about_share:
            notes.say_about(quantity, t_s, device)
        else:
            notes.read(quantity, t_s, device, source)
    return notes


def _to_read(setting: Setting, number: int, world: World, hidden: tuple[Span, ...]) -> list[Wanted]:
    """Which figures a passenger manages to read, and when."""
    on_the_way = _few(world, number) if setting.readings == "few" else _usual(world)
    if setting.per_cent_only:
        on_the_way = [(what, t_s) for what, t_s in on_the_way if what not in _ENERGY]
    if setting.trip_distance != "usual":
        on_the_way = [(what, t_s) for what, t_s in on_the_way if what not in _DISTANCE]
    if setting.trip_distance == "around gaps":
        on_the_way += _around(hidden, rng_of(number, "around"))
    return on_the_way + _of_the_charge(setting, world, rng_of(number, "charge"))


def _usual(world: World) -> list[Wanted]:
    zero_s, off_s = at_s(world.drive, "zero_soc"), at_s(world.drive, "propulsion_off")
    assert world.trip_reset_s is not None
    from_s = max(world.trip_reset_s, zero_s)
    found: list[Wanted] = []
    for t_s in np.arange(45.0, zero_s - 5, 120.0).tolist():
        found += [("trip_energy", t_s), ("trip_distance", t_s + 8.0), ("soc", t_s + 16.0)]
    for t_s in np.arange(from_s + 45.0, off_s - 15, 60.0).tolist():
        found += [("trip_energy", t_s), ("trip_distance", t_s + 6.0), ("soc", t_s + 12.0)]
    for t_s in np.arange(from_s + 120.0, off_s - 10, 120.0).tolist():
        found.append(("mean_consumption", t_s))
    found += [("trip_energy", off_s + 25.0), ("mean_consumption", off_s + 30.0)]
    found.append(("trip_distance", float(world.drive.t_s[-1]) - 20.0))
    return found


def _few(world: World, number: int) -> list[Wanted]:
    """One pair before zero, two after the reset, one at the end, as a cut film shows them."""
    rng = rng_of(number, "few")
    zero_s, off_s = at_s(world.drive, "zero_soc"), at_s(world.drive, "propulsion_off")
    assert world.trip_reset_s is not None
    from_s = max(world.trip_reset_s, zero_s)
    at = [float(rng.uniform(50, zero_s - 30))]
    at += np.sort(rng.uniform(from_s + 20, off_s - 20, 2)).tolist()
    found: list[Wanted] = []
    for t_s in at:
        found += [("trip_energy", t_s), ("trip_distance", t_s + 3.0)]
    return [*found, ("trip_energy", off_s + 25.0), ("trip_distance", world.drive.t_s[-1] - 20.0)]


def _around(hidden: tuple[Span, ...], rng: np.random.Generator) -> list[Wanted]:
    """The trip meter before the page was hidden and after it came back."""
    found: list[Wanted] = []
    for start_s, end_s in hidden:
        found.append(("trip_distance", start_s - float(rng.uniform(6, 20))))
        found.append(("trip_distance", end_s + float(rng.uniform(3, 15))))
    return found


def _of_the_charge(setting: Setting, world: World, rng: np.random.Generator) -> list[Wanted]:
    charge = world.charge
    assert charge is not None
    found: list[Wanted] = []
    if setting.charge_powers is None:
        for t_s in np.linspace(charge.start_s + 40.0, charge.t_s[-1] - 25.0, 22).tolist():
            found += [("charge_energy", t_s), ("charge_power", t_s + 4.0)]
        return found
    slow, full = setting.charge_powers
    slow_s = rng.uniform(charge.start_s + 8, charge.ramp_from_s - 5, slow)
    full_s = rng.uniform(charge.full_from_s + 5, charge.t_s[-1] - 10, full)
    return [("charge_power", t_s) for t_s in np.sort(np.concatenate([slow_s, full_s])).tolist()]


def _from_film(notes: Notebook, world: World, rng: np.random.Generator) -> None:
    """Events and changing figures, each at its frame; some changes fall into a cut."""
    for happening in happenings(world):
        notes.see_on_film(happening, FILM)
    until_s = float(world.drive.t_s[-1])
    for quantity in ("trip_energy", "trip_distance"):
        changes_s = notes.display.changes_s(quantity, 5.0, until_s)
        chosen = rng.choice(changes_s, min(_CHANGES, len(changes_s)), replace=False)
        for change_s in np.sort(chosen).tolist():
            unseen_s = float(rng.uniform(0.5, 6)) if rng.random() < _CUT_SHARE else 1 / 29.97
            notes.see_change(quantity, change_s, unseen_s, FILM)
    for quantity in ("charge_energy", "charge_power"):
        assert world.charge is not None
        for t_s in np.linspace(world.charge.start_s + 40.0, world.charge.t_s[-1] - 25.0, 8):
            notes.read_from_film(quantity, float(t_s), FILM)
