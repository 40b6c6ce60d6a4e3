"""What a warning is worth, said alike on paper and on the command line."""

from __future__ import annotations

from dataclasses import replace

from ebbline.records.comparison import ToleranceBound, TrustInWarning
from ebbline.records.result import Quantity
from ebbline.report.bound import bound_in_words
from ebbline.report.figures import Units

BOUND = ToleranceBound(0.9, 0.95, 4000.0, 0.312, 372.0, "order statistics", None, 0.93)
NONE = ToleranceBound(0.9, 0.95, None, None, None, None, "5 cars are too few", 0.549)
LEAST = Quantity(3210.0, 3190.0, 3230.0)


def a_class(bound: ToleranceBound) -> TrustInWarning:
    return TrustInWarning("stop_soon", 40, LEAST, None, None, None, None, None, bound, "Car F")


def words(trust: TrustInWarning, units: Units) -> str:
    return bound_in_words(trust, units).replace("\u00a0", " ")


def test_a_bound_is_said_in_the_readers_units() -> None:
    assert words(a_class(BOUND), Units("km")) == (
        "Stop soon: 90 % of cars had at least 4.00 km, 0.31 kWh, 6.2 min left, "
        "said with 95 % confidence (order statistics)."
    )
    assert "at least 2.49 mi, 0.31 kWh" in words(a_class(BOUND), Units("mi"))


def test_where_none_can_be_stated_the_least_seen_and_why() -> None:
    assert words(a_class(NONE), Units("km")) == (
        "Stop soon: the least seen was 3.21 km (3.190\u20133.230) (Car F); 54 % of cars have that "
        "or more, said with 95 % confidence. More can\u2019t be said: 5 cars are too few."
    )
    nothing = replace(a_class(NONE), least_left_m=None)
    assert words(nothing, Units("km")) == "Stop soon: 5 cars are too few."
