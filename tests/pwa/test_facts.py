"""Facts as the pages type, show and carry them: asked of the pages' own modules."""

from __future__ import annotations

import javascript
import pytest

TYRES, CELLS = "conditions.tyre_kpa", "vehicle.pack.series_cells"
SPREAD, USABLE = "vehicle.pack.measured_sd_kwh", "vehicle.pack.usable_kwh"
READ = """({ FACTS, readFact, factShown }, [path, typed]) => {
  const { value, problem } = readFact(FACTS[path], typed);
  return { value, problem, shown: factShown(FACTS[path], value) };
}"""
START = """({ startingValues, makeSetup }, [last, cars]) => {
  const values = startingValues(last, cars, new Date(0), "run");
  const setup = makeSetup({ ...values, title: "t" }, {
    id: "s", device: "phone-1", now: new Date(0), timeZone: "UTC", purpose: "run", courses: {} });
  return { facts: values.facts, vehicle: setup.vehicle, conditions: setup.conditions };
}"""


@pytest.mark.parametrize(
    ("path", "typed", "value", "problem"),
    [
        (TYRES, "290", 290, ""),
        (TYRES, " 2,9 ", None, "Tyre pressure: “2,9” is not a number from 100 to 1500, in kPa."),
        (TYRES, "2.4", None, "2.4\u00a0bar would be 240\u00a0kPa."),
        (TYRES, "35", None, "35\u00a0psi would be 241\u00a0kPa."),
        ("conditions.wind_from_deg", "nw", 315, ""),
        ("conditions.wind_from_deg", "NNE", 22.5, ""),
        ("conditions.wind_from_deg", "up", None, "or a point of the compass such as NW."),
        (CELLS, "96.5", None, "Cells in series: “96.5” is not a whole number from 1 to 10000."),
        (USABLE, "0", None, "“0” is not a number above 0, up to 1000, in kWh."),
        ("conditions.ambient_c", "\u22124,5", -4.5, ""),
        ("vehicle.lender", "  its owner ", "its owner", ""),
        ("vehicle.lender", "  ", None, ""),
        ("vehicle.road_load.a_n", "x", None, "Road load A: “x” is not a number, in N."),
    ],
)
def test_a_fact_is_read_as_typed_or_refused_in_words(path, typed, value, problem):
    found = javascript.evaluate("shared/facts.js", READ, [path, typed])
    assert found["value"] == value
    assert problem in found["problem"]
    assert bool(found["problem"]) == bool(problem)


def test_a_standard_deviation_is_typed_and_shown_as_half_a_95_percent_interval():
    found = javascript.evaluate("shared/facts.js", READ, [SPREAD, "0.98"])
    assert found == {"value": pytest.approx(0.5), "problem": "", "shown": "0.98"}


def test_a_session_starts_from_the_cars_last_facts_and_the_days_that_last():
    last = {
        "vehicle": "Car A",
        "facts": {USABLE: 58, TYRES: 290, "conditions.climate": "off", "conditions.ambient_c": 9},
    }
    cars = [{"label": "Car A", "facts": {USABLE: 57}, "saved_ms": 2}]
    found = javascript.evaluate("capture/setup/setup.js", START, [last, cars])
    assert found["facts"] == {USABLE: 57, "conditions.climate": "off"}
    assert found["vehicle"] == {"label": "Car A", "pack": {"usable_kwh": 57}}
    assert found["conditions"] == {"climate": "off"}


def test_what_is_no_longer_known_takes_the_place_of_what_another_still_has():
    """Null and not absent: the merge with the server's set-up would bring back what is absent."""
    road = {"a_n": 110, "b_n_per_mps": 1, "c_n_per_mps2": 0.4}
    setup = {"vehicle": {"own": 1, "pack": {"usable_kwh": 58}, "road_load": road}}
    none = {USABLE: None, TYRES: None, "vehicle.road_load.a_n": None}
    found = javascript.evaluate(
        "shared/facts.js", "({ withFacts }, [setup, facts]) => withFacts(setup, facts)",
        [setup, none],
    )  # fmt: skip
    assert found == {"vehicle": {"own": 1, "pack": {"usable_kwh": None}, "road_load": None}}


def test_displays_of_a_car_tell_its_unit_of_lengths():
    found = javascript.evaluate(
        "shared/displays.js",
        """({ lengthUnit, usualDisplay, withoutLengths }) => [
          lengthUnit({ trip_distance: { unit: "mi" }, soc: { unit: "%" } }), lengthUnit({}),
          usualDisplay("odometer", "mi").unit, usualDisplay("mean_consumption", "mi").unit,
          Object.keys(withoutLengths({ range_shown: 1, mean_consumption: 1, soc: 1 })),
        ]""",
    )
    assert found == ["mi", None, "mi", "mi/kWh", ["soc"]]
