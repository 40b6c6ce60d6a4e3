"""The headline figures of a session, each with where it came from, and the sentence above them."""

from __future__ import annotations

from collections import Counter

from ebbline.records.result import EndOfReserve, Quantity
from ebbline.records.setup import USUAL_TAP_DELAY
from ebbline.report.content import Headline
from ebbline.report.figures import Dimension, number
from ebbline.report.subject import Subject
from ebbline.vocabulary import EVENTS, event_name, first_upper, reading_name

_PLACES = {
    "distance_m": "reserve.distance_m",
    "energy_kwh": "reserve.energy_kwh",
    "share_of_usable_pct": "reserve.share_of_usable_pct",
    "past_zero_wh_per_km": "consumption.past_zero_wh_per_km",
    "total_m": "distance.total_m",
}


def summary_of(subject: Subject) -> str:
    """What came out, in one or two sentences."""
    reserve, zero = subject.result.reserve, subject.result.zero
    end = event_name(reserve.ends_at).lower() if reserve.ends_at else None
    if reserve.shut_down_before_zero:
        soc = _soc_at_end(subject)
        shown = "" if soc is None else f"; it last showed {soc:g} %"
        return f"The car shut itself off before its display reached zero{shown}."
    if zero.basis is None:
        if subject.result.lap_check is None:
            return "No moment of zero is on record, so nothing can be said of the reserve."
        agrees = "agrees" if subject.result.lap_check.agrees else "does not agree"
        return f"A check of the course: the lap by GPS {agrees} with the surveyed length."
    what = [
        f"{verb} {figure.value}\u00a0{figure.unit}" + (f" ({hangs})" if hangs else "")
        for verb, figure, hangs in (
            (
                "drove another",
                subject.units.figure("distance", reserve.distance_m),
                subject.hangs("reserve.distance_m"),
            ),
            (
                "used another",
                subject.units.figure("energy", reserve.energy_kwh),
                subject.hangs("reserve.energy_kwh"),
            ),
        )
        if figure is not None
    ]
    since = f"After {zero_words(subject)}"
    if not what:
        return f"{since}, the evidence does not say how much was left."
    until = f" until \u201c{end}\u201d" if end else "; its end is not on record"
    return f"{since}, the car {' and '.join(what)}{until}."


def headlines_of(subject: Subject) -> tuple[Headline, ...]:
    """The figures that say most of this session, the most important first."""
    result, units = subject.result, subject.units
    reserve, recharge = result.reserve, result.recharge
    usable = subject.session.vehicle.pack.usable_kwh

    def line(
        key: str, name: str, dimension: Dimension, quantity: Quantity | None, source: str
    ) -> Headline:
        hangs = first_upper(subject.hangs(_PLACES.get(key, "")))
        return Headline(key, name, units.figure(dimension, quantity), source, hangs)

    span, energy = _span(subject), energy_source(subject)
    distance = first_upper(result.distance.method)
    if result.distance.polyline_m is not None:
        distance += f"; {_fixes(subject)}"
    past = [
        line("distance_m", "Driven past zero", "distance", reserve.distance_m,
             f"{span} {distance}."),
        line("energy_kwh", "Energy past zero", "energy", reserve.energy_kwh, f"{span} {energy}"),
        line("duration_s", "Time past zero", "duration", reserve.duration_s, span),
        line("share_of_usable_pct", "Share of usable energy", "percent",
             reserve.share_of_usable_pct,
             f"Of {usable:g} kWh stated by the maker." if usable else "Usable energy not stated."),
        line("past_zero_wh_per_km", "Consumption past zero", "consumption",
             result.consumption.past_zero_wh_per_km, "Energy past zero over distance past zero."),
    ]  # fmt: skip
    for which, end in (("first", reserve.first_end), ("last", reserve.last_end)):
        if end is None:
            continue
        source = f"Shut off at {_at(subject, end)}; the car was restarted and drove on between."
        past += [
            line(f"{which}_end.distance_m", f"Driven past zero, to the {which} shut-off",
                 "distance", end.distance_m, source),
            line(f"{which}_end.energy_kwh", f"Energy past zero, to the {which} shut-off",
                 "energy", end.energy_kwh, source),
        ]  # fmt: skip
    whole = [
        line("total_m", "Driven in all", "distance", result.distance.total_m, f"{distance}."),
    ]
    if result.lap_check:
        whole.append(
            line("lap_ratio", "Lap measured : surveyed", "ratio", result.lap_check.ratio,
                 f"Surveyed: {result.lap_check.surveyed_m:g} m.")
        )  # fmt: skip
    charged = []
    if recharge:
        charged = [
            line("trickle_s", "Slow charging before full power", "duration", recharge.trickle_s,
                 "From the start of charging to the change of shown power."),
            line("below_zero_kwh", "Put back before the display left 0 %", "energy",
                 recharge.below_zero_kwh,
                 "Taken in before the display left 0 %, times the charging efficiency."),
        ]  # fmt: skip
    has_reserve = reserve.distance_m is not None or reserve.energy_kwh is not None
    whole_too = whole[:1] if charged else []
    shown = [*past, *whole_too, *charged] if has_reserve else [*whole, *charged]
    return tuple(entry for entry in shown if entry.figure is not None or entry in past)


def energy_source(subject: Subject) -> str:
    """Which readings the energy was found from."""
    counts = Counter(
        reading.quantity
        for reading in subject.readings
        if reading.quantity in ("trip_energy", "mean_consumption")
    )
    if not counts:
        return "No energy readings."
    said = " and ".join(
        f"{count} {'reading' if count == 1 else 'readings'} of {reading_name(quantity).lower()}"
        for quantity, count in counts.items()
    )
    return f"From {said}; in between estimated from the driving."


def tap_source(subject: Subject) -> str:
    """How late taps were taken to be."""
    stated = subject.session.protocol.tap_delay
    delay = stated or USUAL_TAP_DELAY
    by = "stated in the plan" if stated else "assumed; the plan states none"
    return f"{delay.mean_s:g} s late, give or take {1.96 * delay.sd_s:.2g} s ({by})"


def _span(subject: Subject) -> str:
    zero, end = subject.result.zero, subject.result.reserve.ends_at
    ended = subject.end_of_reserve
    start = "" if zero.t_ms is None else f" at {subject.clock(zero.t_ms)}"
    basis = zero.basis or ""
    name = f"\u201c{event_name(basis)}\u201d" if basis in EVENTS else zero_words(subject)
    if end is None or ended is None:
        return f"From {name}{start}; no end on record."
    return (
        f"From {name}{start} to \u201c{event_name(end).lower()}\u201d "
        f"at {subject.clock(ended.at_ms.value)}."
    )


def zero_words(subject: Subject) -> str:
    """What zero was taken to be, inside a sentence."""
    basis = subject.result.zero.basis
    return {
        "zero_soc": "the display showed 0 %",
        "zero_range": "the range showed 0",
        "moment": "a chosen moment",
    }.get(basis or "", "zero")


def _fixes(subject: Subject) -> str:
    count = sum(crumbs.seq.size for crumbs in subject.session.breadcrumbs)
    gaps = len(subject.result.distance.gaps)
    said = "no gaps" if gaps == 0 else "1 gap bridged" if gaps == 1 else f"{gaps} gaps bridged"
    return f"{number(count, 0)} positions, {said}"


def _at(subject: Subject, end: EndOfReserve) -> str:
    return next(
        subject.clock(entry.at_ms.value)
        for entry in subject.result.timeline
        if entry.event_id == end.event_id
    )


def _soc_at_end(subject: Subject) -> float | None:
    ended = subject.end_of_reserve
    shown = [
        soc for at_ms, soc in subject.displayed_soc() if ended is None or at_ms <= ended.at_ms.value
    ]
    return shown[-1] if shown else None
