"""What the car's own meters say of its way: readings as intervals since a reset or one another."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ebbline.measure.display import interval_of
from ebbline.measure.naming import named
from ebbline.measure.time.moments import Events, Moment, TimedReading
from ebbline.measure.units import factor
from ebbline.records import Finding
from ebbline.vocabulary import reading_name

_METERS = ("trip_distance", "odometer")
_FASTEST_MPS = 80.0  # no reading is so far ahead of an earlier one (common practice, no source)
_AT_ONCE_M = 1.0


@dataclass(frozen=True, slots=True)
class TripBound:
    """A meter has counted from ``low_m`` to ``high_m`` since ``since``.

    ``counter`` names what it counts by: readings of one counter share its start, which is a reset
    where ``reset`` says so, else the counter's first reading with an unknown figure.
    """

    reading_id: str
    quantity: str
    moment: Moment
    since: Moment
    counter: str
    reset: bool
    low_m: float
    high_m: float

    @property
    def middle_m(self) -> float:
        """The middle of what it allows."""
        return (self.low_m + self.high_m) / 2

    def named(self) -> str:
        """The reading in words, with its time."""
        return named(reading_name(self.quantity), self.moment.t_s)


def trip_bounds(
    events: Events, readings: list[TimedReading]
) -> tuple[list[TripBound], list[Finding]]:
    """All bounds in order of time, those that can't both be right widened and named.

    A counter without a reset says nothing by one reading alone.
    """
    bounds = []
    own = [timed for timed in readings if timed.reading.quantity in _METERS]
    for timed in sorted(own, key=lambda timed: timed.moment.t_s):
        reading = timed.reading
        reset = None
        if reading.quantity == "trip_distance":
            reset = events.last("trip_reset", timed.moment.t_s)
        low, high = (end * factor(reading.unit, "m") for end in interval_of(reading))
        bounds.append(
            TripBound(
                reading_id=reading.id,
                quantity=reading.quantity,
                moment=timed.moment,
                since=reset.moment if reset else timed.moment,
                counter=reset.event.id if reset else reading.quantity,
                reset=reset is not None,
                low_m=low,
                high_m=high,
            )
        )
    return _settled(_from_first(bounds))


def _from_first(bounds: list[TripBound]) -> list[TripBound]:
    """Without a reset a counter's readings count from its first one; one that is alone goes."""
    first: dict[str, TripBound] = {}
    for bound in bounds:
        first.setdefault(bound.counter, bound)
    shared = {bound.counter for bound in bounds if bound is not first[bound.counter]}
    return [
        bound
        if bound.reset
        else replace(
            bound,
            since=first[bound.counter].moment,
            low_m=bound.low_m - first[bound.counter].middle_m,
            high_m=bound.high_m - first[bound.counter].middle_m,
        )
        for bound in bounds
        if bound.reset or bound.counter in shared
    ]


def _settled(bounds: list[TripBound]) -> tuple[list[TripBound], list[Finding]]:
    """Neither of two that contradict each other is trusted over the other: both are widened."""
    widening = [0.0] * len(bounds)
    findings = []
    for j, later in enumerate(bounds):
        for i, earlier in enumerate(bounds[:j]):
            if earlier.counter != later.counter:
                continue
            apart_s = later.moment.t_s - earlier.moment.t_s
            unsure_s = 2 * (earlier.moment.sd_s + later.moment.sd_s)
            fell = earlier.low_m - later.high_m - _AT_ONCE_M
            leapt = later.low_m - earlier.high_m - _FASTEST_MPS * (apart_s + unsure_s)
            if max(fell, leapt) > 0:
                findings.append(_contradiction(earlier, later, fell=fell > 0))
                for k in (i, j):
                    widening[k] = max(widening[k], fell, leapt)
    return [
        replace(bound, low_m=bound.low_m - wide, high_m=bound.high_m + wide)
        for bound, wide in zip(bounds, widening, strict=True)
    ], findings


def _contradiction(earlier: TripBound, later: TripBound, *, fell: bool) -> Finding:
    why = "a meter never counts back" if fell else "no car is that fast"
    return Finding(
        "doubt",
        "trip_readings_contradict",
        f"{earlier.named()} and {later.named()} can't both be right: {why}. Check both, and "
        f"whether a reset is missing between them; until then both count for less.",
        f"readings {earlier.reading_id} and {later.reading_id}",
    )
