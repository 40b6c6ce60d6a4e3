"""What the records of a run say on the phone: phases it has been through, figures in words."""

from __future__ import annotations

from typing import Any

import javascript
import pytest

BEEN = """({ phasesOf }, [kinds, protocol]) => phasesOf(kinds.map((kind, i) =>
  ({ id: kind, type: "event", doc: { id: kind, kind, t_ms: 1000 * i } })), protocol)"""
WORDS = "({ recordName, shortName }, row) => [recordName(row), shortName(row)]"
WORTH = """({ readingWorth }, standing) => readingWorth(standing)?.quantity ?? null"""


@pytest.mark.parametrize(
    ("kinds", "been"),
    [
        ([], ["before"]),
        (["power_limited"], ["before"]),
        (["zero_soc"], ["before", "past"]),
        (["zero_soc", "power_limited"], ["before", "past", "fading"]),
        # nothing that was skipped is drawn as passed
        (["zero_soc", "propulsion_off"], ["before", "past", "off"]),
        (["power_limited", "propulsion_off"], ["before", "off"]),
        (["propulsion_off", "plug_in"], ["before", "off", "charging"]),
        (["plug_in"], ["before", "charging"]),
    ],
)
def test_only_what_was_reached_counts_as_passed(kinds: list[str], been: list[str]) -> None:
    assert javascript.evaluate("capture/records/evidence.js", BEEN, [kinds, {}]) == been


def test_a_figure_said_roughly_is_told_so() -> None:
    doc = {"quantity": "charge_energy", "value": 12, "unit": "kWh", "about": True}
    words = "Energy charged about\u00a012\u00a0kWh"
    row = {"type": "reading", "doc": doc}
    found = javascript.evaluate("capture/records/words.js", WORDS, row)
    assert found == [words, "about\u00a012\u00a0kWh"]
    sure = {"type": "reading", "doc": {**doc, "about": False}}
    assert javascript.evaluate("capture/records/words.js", WORDS, sure)[0] == words.replace(
        "about\u00a0", ""
    )


def standing(phase: str, *docs: dict[str, Any]) -> dict[str, Any]:
    rows = [
        {"id": str(i), "type": "event", "along_m": 0, "doc": {"t_ms": 0, **doc}}
        for i, doc in enumerate(docs)
    ]
    return {"rows": rows, "phase": phase, "along_m": 9500, "now_ms": 600_000, "usable_kwh": 58}


def test_below_zero_nobody_is_asked_for_per_cent() -> None:
    five: dict[str, Any] = {"kind": "soc_step", "value": 5, "unit": "%"}
    asked = [
        javascript.evaluate("capture/drive/reading-worth.js", WORTH, now)
        for now in (
            standing("before", five),
            standing("past", {**five, "value": 0}),
            standing("fading", {**five, "value": 0}),
            standing("off", {**five, "value": 0}),
        )
    ]
    assert asked == ["soc", "trip_energy", "trip_energy", "trip_energy"]
