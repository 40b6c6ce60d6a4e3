"""How many decimals the files are written with: as much as they promise on any processor.

A figure that happens to lie halfway between two may be written as either, since processors differ
in the last bits of a sine. So two makings of a file are alike but for one step of the last decimal.
"""

from __future__ import annotations

FIXES = {"lat": 7, "lon": 7, "accuracy_m": 2, "speed_mps": 2, "heading_deg": 2}
RUN = {"distance_m": 3, "energy_kwh": 5, "speed_mps": 3}  # of the truth, second by second

_OTHERWISE, _FROM_100 = 6, 3


def alone(value: float) -> int:
    """Of a figure that stands alone in the truth."""
    return _OTHERWISE if abs(value) < 100 else _FROM_100
