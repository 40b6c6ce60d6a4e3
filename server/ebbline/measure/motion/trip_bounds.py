"""What the car's own meters say of its way: readings as intervals since a reset or one another."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from ebbline.measure.display import interval_of
from ebbline.measure.naming import named
from ebbline.measure.time.moments import Events, Moment, TimedReading
from ebbline.measure.units import factor
from ebbline.records.result import Finding
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
    """A reading that several others contradict is set aside; of two that contradict each other
    neither is trusted over the other, and both are widened.
    """
    findings = []
    while True:
        pairs = _contradicting(bounds)
        count = Counter(name for one, other, _ in pairs for name in (one, other))
        worst = count.most_common(2)
        if not worst or worst[0][1] < 2 or (len(worst) > 1 and worst[0][1] == worst[1][1]):
            break
        findings += [_contradiction(*each) for each in pairs if worst[0][0] in each[:2]]
        bounds = [bound for bound in bounds if bound is not worst[0][0]]
    widening: dict[TripBound, float] = {}
    for one, other, by_m in pairs:
        findings.append(_contradiction(one, other, by_m))
        for bound in (one, other):
            widening[bound] = max(widening.get(bound, 0.0), abs(by_m))
    return [
        replace(
            bound,
            low_m=bound.low_m - widening.get(bound, 0.0),
            high_m=bound.high_m + widening.get(bound, 0.0),
        )
        for bound in bounds
    ], findings


def _contradicting(bounds: list[TripBound]) -> list[tuple[TripBound, TripBound, float]]:
    """Pairs that can't both be right, the earlier first, and by how much the later leapt ahead of
    what a car can do; negative where it fell.
    """
    pairs = []
    for j, later in enumerate(bounds):
        for earlier in bounds[:j]:
            if earlier.counter != later.counter:
                continue
            apart_s = later.moment.t_s - earlier.moment.t_s
            unsure_s = 2 * (earlier.moment.sd_s + later.moment.sd_s)
            fell_m = earlier.low_m - later.high_m - _AT_ONCE_M
            leapt_m = later.low_m - earlier.high_m - _FASTEST_MPS * (apart_s + unsure_s)
            if max(fell_m, leapt_m) > 0:
                pairs.append((earlier, later, -fell_m if fell_m > 0 else leapt_m))
    return pairs


def _contradiction(earlier: TripBound, later: TripBound, by_m: float) -> Finding:
    why = "a meter never counts back" if by_m < 0 else "no car is that fast"
    return Finding(
        "doubt",
        "trip_readings_contradict",
        f"{earlier.named()} and {later.named()} can't both be right: {why}. Check both, and "
        f"whether a reset is missing between them; until then they count for less or not at all.",
        f"readings {earlier.reading_id} and {later.reading_id}",
    )
