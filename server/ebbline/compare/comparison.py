"""All drives of a comparison put together."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from ebbline.compare.cars import Cars, Counted, by_car, cars_of, reserve_before_zero
from ebbline.compare.influence import influences_on
from ebbline.compare.repeats import repeats_of
from ebbline.compare.reserve_model import (
    FEWEST_CARS,
    HARDLY_DIFFER,
    NAMES,
    Fits,
    leave_one_out,
)
from ebbline.compare.statement import NOTHING, statement_of
from ebbline.compare.trust import trust_in_warnings
from ebbline.measure import quantity
from ebbline.records.comparison import (
    ComparedSession,
    Comparison,
    Drive,
    Figure,
    LeftOut,
    Model,
    Repeat,
    ReserveModel,
)
from ebbline.records.result import Bounds, Finding, Quantity
from ebbline.vocabulary import event_name, zero_name


def compare(
    drives: Sequence[Drive],
    zero_basis: str | None = None,
    reserve_end: str | None = None,
    left_out_before: Sequence[LeftOut] = (),
) -> Comparison:
    """What many drives say together.

    Args:
        drives: in any order; they are listed by car, each car's by their start. Those left out
            before may be among them, and so keep their tags.
        zero_basis: the zero that all are counted from; None: what most of them take.
        reserve_end: the event that all end with; None: what most of them end with.
        left_out_before: sessions that somebody left out already, and why.

    Drives that have no reserve by these are left out, and why is told.
    """
    in_order = sorted(drives, key=_place)
    tags = _tags(in_order)
    out_before = {one.session_id for one in left_out_before}
    taken = [drive for drive in in_order if drive.session_id not in out_before]
    zero_basis = zero_basis or _commonest(drive.zero_basis for drive in taken)
    reserve_end = reserve_end or _commonest(drive.reserve_end for drive in taken)
    counted: list[Counted] = []
    left_out = [replace(one, tag=tags.get(one.session_id)) for one in left_out_before]
    seen: set[str] = set()
    for drive in taken:
        told = (
            "it is there twice"
            if drive.session_id in seen
            else _count(drive, zero_basis, reserve_end)
        )
        seen.add(drive.session_id)
        if isinstance(told, Counted):
            counted.append(told)
        else:
            left_out.append(LeftOut(drive.session_id, told, tags[drive.session_id]))
    used = [session.drive for session in counted]
    modelled = _modelled(counted)
    fits = Fits(cars_of(modelled)) if modelled else None
    repeats = repeats_of(counted)
    model = _reserve_model(fits)
    return Comparison(
        zero_basis=zero_basis,
        reserve_end=reserve_end,
        sessions=_rows(counted, tags, fits),
        left_out=tuple(left_out),
        reserve_model=model,
        warnings=trust_in_warnings(used),
        repeats=repeats,
        findings=tuple(_findings(counted, modelled, fits, repeats)),
    )


def _place(drive: Drive) -> tuple[list[tuple[int, str]], int]:
    """Where people would look for it: 'car 9' before 'car 10', and by its start."""
    parts = re.split(r"(\d+)", " ".join(drive.vehicle.casefold().split()))
    name = [(int(part), "") if part.isdecimal() else (0, part) for part in parts]
    return name, drive.started_ms or 0


def _tags(in_order: Sequence[Drive]) -> dict[str, str]:
    """Each session's car by number, and a letter where the car was driven before."""
    numbers: dict[str, int] = {}
    times: Counter[str] = Counter()
    tags: dict[str, str] = {}
    for drive in in_order:
        if drive.session_id not in tags:
            number = numbers.setdefault(drive.car, len(numbers) + 1)
            times[drive.car] += 1
            letter = "" if times[drive.car] == 1 else chr(96 + times[drive.car])
            tags[drive.session_id] = f"{number}{letter}"
    return tags


def _commonest(told: Iterable[str | None]) -> str | None:
    """What most say; of as many the first in the alphabet's reverse, so 0 % before range 0."""
    counts = Counter(one for one in told if one is not None)
    return max(counts, key=lambda one: (counts[one], one), default=None)


def _count(drive: Drive, zero_basis: str | None, reserve_end: str | None) -> Counted | str:
    """A drive with its reserve, or why it has none."""
    if drive.reserve_end is None:
        return "nothing notes when the car could no longer drive"
    if drive.reserve_end != reserve_end:
        return (
            f"its reserve ends at \u201c{event_name(drive.reserve_end)}\u201d; here it is to end "
            f"at \u201c{event_name(reserve_end or '')}\u201d"
        )
    if drive.shut_down_before_zero:
        return Counted(drive, Bounds(None, None, 0.0), reserve_before_zero(drive))
    if zero_basis is None or zero_basis not in drive.reserves:
        taken = zero_name(drive.zero_basis)
        why = f"it counts from \u201c{taken}\u201d" if taken else "no zero was noted"
        return f"{why}; here zero is \u201c{zero_name(zero_basis)}\u201d"
    reserve_m, reserve_kwh = drive.reserves[zero_basis]
    if reserve_m is None and reserve_kwh is None:
        return "neither distance nor energy of its reserve is known"
    return Counted(drive, reserve_m, reserve_kwh)


def _modelled(counted: Sequence[Counted]) -> list[Counted]:
    """Sessions that say something of the reserve's energy, of cars whose pack is known."""
    told = [session for session in counted if session.reserve_kwh is not None]
    packs = {session.drive.car for session in told if session.drive.usable_kwh is not None}
    return [session for session in told if session.drive.car in packs]


def _reserve_model(fits: Fits | None) -> ReserveModel:
    if fits is None:
        empty = tuple(Model(name, None, None, None, None, None) for name in NAMES)
        return ReserveModel(empty, "undecided", NOTHING, 0, 0, None, None, (), ())
    models = tuple(fits.model(name) for name in NAMES)
    without = leave_one_out(fits.cars) if fits.cars.n > FEWEST_CARS else ()
    return ReserveModel(
        models=models,
        verdict=fits.verdict,
        statement=statement_of(fits, models, fits.verdict, without),
        cars=fits.cars.n,
        sessions=sum(len(group) for group in fits.cars.members),
        mean_usable_kwh=fits.mean_kwh,
        next_car_kwh=fits.next_car,
        without=without,
        influences=influences_on(fits.cars),
    )


def _rows(
    counted: Sequence[Counted], tags: Mapping[str, str], fits: Fits | None
) -> tuple[ComparedSession, ...]:
    first = {
        session.drive.session_id: group[0].drive.session_id
        for group in by_car(counted)
        for session in group[1:]
    }
    ids = [session.drive.session_id for session in counted]
    return tuple(
        _row(session, tags[session_id], first.get(session_id), fits)
        for session, session_id in zip(counted, ids, strict=True)
    )


def _row(session: Counted, tag: str, repeat_of: str | None, fits: Fits | None) -> ComparedSession:
    drive = session.drive
    return ComparedSession(
        session_id=drive.session_id,
        tag=tag,
        vehicle=drive.vehicle,
        usable_kwh=drive.usable_kwh,
        chemistry=_text(drive, "vehicle.pack.chemistry"),
        reserve_m=session.reserve_m,
        reserve_kwh=session.reserve_kwh,
        share_of_usable_pct=_share(session),
        shut_down_before_zero=drive.shut_down_before_zero,
        repeat_of=repeat_of,
        started_at=drive.started_at,
        software=_text(drive, "vehicle.software"),
        odometer_km=_number(drive, "vehicle.odometer_km"),
        ambient_c=_number(drive, "conditions.ambient_c"),
        pack_c=_number(drive, "conditions.pack_c"),
        consumption_wh_per_km=drive.figures.get("consumption.past_zero_wh_per_km"),
        residual_kwh=_residual(session, fits),
    )


def _text(drive: Drive, fact: str) -> str | None:
    told = drive.facts.get(fact)
    return None if told is None else str(told)


def _number(drive: Drive, fact: str) -> float | None:
    told = drive.facts.get(fact)
    return float(told) if isinstance(told, (int, float)) else None


def _share(session: Counted) -> Figure:
    """The reserve as per cent of the usable energy: of the figure that is stated, as the session's
    own page has it, or of our measure, as unsure as that is.
    """
    usable, reserve = session.drive.usable_kwh, session.reserve_kwh
    if usable is None or reserve is None:
        return None
    if not session.drive.pack_measured:
        usable = quantity.exact(usable.value)
    to_pct = 100 / usable.value
    if isinstance(reserve, Bounds):
        low, high = (None if end is None else end * to_pct for end in (reserve.low, reserve.high))
        return Bounds(None, low, high)
    value = reserve.value * to_pct
    by_pack = (
        value * np.array([usable.high - usable.value, usable.value - usable.low]) / usable.value
    )
    below = float(np.hypot((reserve.value - reserve.low) * to_pct, by_pack[0]))
    above = float(np.hypot((reserve.high - reserve.value) * to_pct, by_pack[1]))
    return Quantity(value, value - below, value + above)


def _residual(session: Counted, fits: Fits | None) -> Figure:
    """The reserve less what the mixed model expects; its interval is the reserve's own."""
    usable, reserve = session.drive.usable_kwh, session.reserve_kwh
    expected = fits.expected(usable.value) if fits and usable else None
    if expected is None or reserve is None:
        return None
    off = expected.value
    if isinstance(reserve, Bounds):
        low, high = (None if end is None else end - off for end in (reserve.low, reserve.high))
        return Bounds(None, low, high)
    return Quantity(reserve.value - off, reserve.low - off, reserve.high - off)


def _findings(
    counted: Sequence[Counted],
    modelled: Sequence[Counted],
    fits: Fits | None,
    repeats: Sequence[Repeat],
) -> Iterable[Finding]:
    if fits is not None:
        yield from _of_cars(fits.cars)
    unplaced = [s.drive.session_id for s in counted if s not in modelled]
    if unplaced:
        yield Finding(
            "doubt",
            "not_in_the_models",
            f"{len(unplaced)} of {len(counted)} sessions tell no reserve in kWh or no usable "
            f"energy of the pack, so the models of the reserve don't see them.",
            f"sessions {', '.join(unplaced)}",
        )
    measured = [s.drive.session_id for s in modelled if s.drive.pack_measured]
    if measured:
        yield Finding(
            "note",
            "pack_measured",
            f"In {len(measured)} of {len(modelled)} sessions the pack's usable energy is our own "
            f"measure, not the maker's figure.",
            f"sessions {', '.join(measured)}",
        )
    early = [s.drive.session_id for s in counted if s.drive.shut_down_before_zero]
    if early:
        yield Finding(
            "note",
            "shut_down_before_zero",
            f"{len(early)} of {len(counted)} sessions shut down before zero. They count: their "
            f"reserve is less than nothing, by about what the display still showed.",
            f"sessions {', '.join(early)}",
        )
    for repeat in repeats:
        if repeat.agrees is False:
            yield Finding(
                "doubt",
                "repeats_disagree",
                f"Two drives of {repeat.vehicle} differ in {' and '.join(repeat.apart)} by more "
                f"than their uncertainties allow: the car, the day or the software changed, or an "
                f"interval is too narrow.",
                f"sessions {', '.join(repeat.session_ids)}",
            )


def _of_cars(cars: Cars) -> Iterable[Finding]:
    if cars.n < FEWEST_CARS:
        yield Finding(
            "doubt",
            "few_cars",
            f"{cars.n} {'car is' if cars.n == 1 else 'cars are'} too few to tell a fixed reserve "
            f"from a share of the pack.",
            "reserve_model",
        )
    smallest, largest = float(np.min(cars.usable_kwh)), float(np.max(cars.usable_kwh))
    if cars.n > 1 and largest < HARDLY_DIFFER * smallest:
        yield Finding(
            "doubt",
            "packs_hardly_differ",
            f"The packs hold {smallest:.0f} to {largest:.0f} kWh. A fixed reserve and a share of "
            f"the pack are nearly the same to such cars; what would tell them apart is one with a "
            f"much larger or smaller pack.",
            "reserve_model",
        )
