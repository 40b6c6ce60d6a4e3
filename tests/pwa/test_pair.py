"""Two sessions in short, in words: asked of the desk's own module."""

from __future__ import annotations

from typing import Any

import javascript

SUMMARY = """({ summary }, [cases, units]) => cases.map(([figures, early]) =>
  summary({ figures, differs: [] }, ["Car A", "Car B"], units, early).split(".  ")[0])"""
KM = {"distance": "km", "consumption": "Wh/km", "temperature": "°C"}


def figure(name: str, value: float, half: float) -> dict[str, Any]:
    apart = {"value": value, "low": value - half, "high": value + half}
    return {"name": name, "difference": apart, "agrees": abs(value) <= half}


def test_it_begins_with_which_went_farther_and_by_how_much() -> None:
    far, much = "reserve.distance_m", "reserve.energy_kwh"
    neither = [False, False]
    cases = [
        [[figure(far, 2320, 40), figure(much, 0.42, 0.05)], neither],
        [[figure(far, -2320, 40), figure(much, 0.42, 0.05)], neither],
        [[figure(far, 60, 30), figure(much, 0.0, 0.05)], neither],
        [[figure(far, 20, 30), figure(much, -0.01, 0.05)], neither],
        [[figure(far, 20, 30), figure(much, -0.42, 0.05)], neither],
        [[figure(much, -0.42, 0.05)], neither],
        [[], [False, True]],
    ]
    said = javascript.evaluate("desk/pair/figures.js", SUMMARY, [cases, KM])
    begun = [one.replace("\u00a0", " ") for one in said]
    for sentence, begins in zip(begun, (
        "Car B drove 2.32 km (2.28–2.36) farther past zero than Car A, on 0.42 kWh (0.37–0.47) "
        "more. ",
        "Car A drove 2.32 km (2.28–2.36) farther past zero than Car B, on 0.42 kWh (0.37–0.47) "
        "less. ",
        "Car B drove 0.06 km (0.03–0.09) farther past zero than Car A, on as much energy within "
        "the doubt. ",
        "Nothing tells the two reserves apart: ",
        "Both drove as far past zero within the doubt; Car B used 0.42 kWh (0.37–0.47) less there.",
        "Car A used 0.42 kWh (0.37–0.47) more past zero than Car B. ",
        "Car B shut down before 0 %. ",
    ), strict=True):  # fmt: skip
        assert sentence.startswith(begins), sentence
