"""Power that the display said was available, beside ours at full throttle."""

import numpy as np
import pytest

from ebbline.measure.full_throttle.available import available_power, compare_available
from ebbline.measure.run import Run
from ebbline.measure.time.moments import Events, Moment, TimedReading
from ebbline.records.evidence import Reading
from ebbline.records.result import Limit, Quantity


def reading(at_s: float, value: float, unit: str = "kW") -> TimedReading:
    own = Reading(f"r{at_s}", "phone", round(1000 * at_s), "power_available", value, unit, 1.0)
    return TimedReading(own, Moment(at_s, 0.4))


def limit(at_s: float, pack_kw: float, wheels_kw: float) -> Limit:
    pack, wheels = (Quantity(kw, kw - 2, kw + 2) for kw in (pack_kw, wheels_kw))
    at_ms = round(1000 * at_s)
    return Limit(at_ms - 5000, at_ms + 5000, None, None, None, None, None, wheels, pack)


def shown(*readings: TimedReading):
    return available_power(Run(Events(), None, None), None, list(readings))


def test_readings_become_a_curve_with_what_each_can_have_meant():
    found = shown(reading(200, 40), reading(100, 62), reading(300, 25, "%"))
    assert found.t_ms.tolist() == [100_000, 200_000, 300_000]
    np.testing.assert_allclose(found.power_kw.low, [61.5, 39.5, np.nan])
    np.testing.assert_allclose(found.power_kw.high, [62.5, 40.5, np.nan])
    np.testing.assert_allclose(found.share_pct.value, [np.nan, np.nan, 25])
    assert np.isnan(found.energy_kwh).all()  # nothing tells the energy


@pytest.mark.parametrize(
    ("pack_kw", "wheels_kw", "verdict"),
    [
        (51, 42, "power from the pack"),
        (62, 50, "power at the wheels"),
        (51, 50, "power from the pack or at the wheels"),
        (30, 25, "something else held the speed down"),
        (80, 70, "less than was taken"),
    ],
)
def test_the_display_is_reconciled_in_words(pack_kw, wheels_kw, verdict):
    """Between 52 and 48 kW shown, both to the nearest, the display allowed 47.5 to 52.5 kW."""
    found = compare_available(
        shown(reading(100, 52), reading(200, 48)), (limit(150, pack_kw, wheels_kw),)
    )
    (finding,) = found
    assert "48 to 52 kW" in finding.message
    assert verdict in finding.message
    assert finding.code == "power_available_compared"


def test_a_stretch_that_no_two_readings_enclose_is_not_compared():
    assert compare_available(shown(reading(100, 52), reading(200, 48)), (limit(250, 50, 45),)) == []
    assert compare_available(shown(reading(100, 52)), (limit(150, 50, 45),)) == []


def test_stretches_that_differ_are_counted():
    limits = (limit(110, 50, 40), limit(150, 50, 40), limit(190, 20, 15))
    (finding,) = compare_available(shown(reading(100, 52), reading(200, 48)), limits)
    assert "at 2 of 3 stretches it is power from the pack" in finding.message
    assert "at 1 of 3 stretches it allowed more" in finding.message
