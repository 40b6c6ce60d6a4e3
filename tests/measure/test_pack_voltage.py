"""The pack's voltage at the turns of the story."""

import pytest

from ebbline.measure.pack_voltage import pack_voltage_of
from ebbline.measure.reserve.span import find_span
from ebbline.measure.time.moments import Events, Moment, TimedEvent, TimedReading
from ebbline.records.evidence import Event, Reading
from ebbline.records.result import Bounds, Recharge
from ebbline.records.setup import Pack, Protocol


def tap(kind: str, at_s: float) -> TimedEvent:
    return TimedEvent(Event(kind, "phone", round(1000 * at_s), kind), Moment(at_s, 0.4))


def volts(at_s: float, value: float) -> TimedReading:
    own = Reading(f"v{at_s}", "phone", round(1000 * at_s), "pack_voltage", value, "V", 1.0)
    return TimedReading(own, Moment(at_s, 0.4))


EVENTS = Events.in_order(
    tap(kind, at_s)
    for kind, at_s in (
        ("zero_soc", 100),
        ("propulsion_off", 900),
        ("standstill", 950),
        ("plug_in", 1500),
        ("contactors_closed", 1520),
        ("charge_start", 1530),
    )
)
TRICKLED_200_S = Recharge(
    1_500_000, None, None, None, None, None, (), None, trickle_end_s=Bounds(None, 200.0, 240.0)
)
READINGS = [
    volts(600, 300), volts(890, 262), volts(930, 285), volts(1400, 302), volts(1525, 301),
    volts(1600, 306), volts(1725, 309), volts(1790, 330),
]  # fmt: skip


CELLS_96 = Pack(series_cells=96)


def found(readings=READINGS, recharge=TRICKLED_200_S, pack=CELLS_96):
    span, _ = find_span(EVENTS, Protocol())
    entries = pack_voltage_of(EVENTS, span, readings, recharge, pack)
    return {entry.moment: entry for entry in entries}


def test_each_turn_has_the_reading_that_belongs_to_it():
    """262 V is the last before the shut-off, 302 V the last at rest, 301 V the first after the
    contactors closed, 309 V the last on a trickle of at least 200 s.
    """
    assert {moment: entry.volts.value for moment, entry in found().items()} == {
        "shut_off": 262, "rested": 302, "precharged": 301, "trickle": 309
    }  # fmt: skip


def test_a_reading_is_an_interval_also_by_the_cell():
    rested = found()["rested"]
    assert (rested.volts.low, rested.volts.high) == (301.5, 302.5)
    assert rested.per_cell_v.value == pytest.approx(302 / 96)
    assert rested.per_cell_v.high == pytest.approx(302.5 / 96)
    assert found(pack=Pack())["rested"].per_cell_v is None


def test_a_turn_without_a_reading_is_left_out():
    assert set(found(READINGS[:3])) == {"shut_off"}
    assert set(found([volts(600, 300)])) == set()
    assert "trickle" not in found(recharge=None)
