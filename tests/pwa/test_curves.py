"""What a curve says at a moment: what lies on its line there, never a neighbour's figure."""

from __future__ import annotations

import javascript

READ = """({ quantityAt, valueAt }, [tMs, band, moments]) => moments.map((at) => ({
  band: quantityAt(tMs, band, at), value: valueAt(tMs, band.value, at) }))"""
T_MS = [0, 10_000, 100_000, 110_000]
BAND = {
    "value": [0, 100, 2800, None],
    "low": [0, 90, 2500, None],
    "high": [0, 110, 3100, None],
}


def test_between_two_points_a_curve_is_read_along_its_line() -> None:
    moments = [-3000, -1000, 10_000, 55_000, 100_000, 105_000, 112_001]
    read = javascript.evaluate("desk/session/curves.js", READ, [T_MS, BAND, moments])
    assert [one["band"] for one in read] == [
        None,  # too long before the line
        {"value": 0, "low": 0, "high": 0},
        {"value": 100, "low": 90, "high": 110},
        {"value": 1450, "low": 1295, "high": 1605},  # the means, by hand
        {"value": 2800, "low": 2500, "high": 3100},
        None,  # nobody knows what follows
        None,
    ]
    assert [one["value"] for one in read] == [None, 0, 100, 1450, 2800, None, None]
