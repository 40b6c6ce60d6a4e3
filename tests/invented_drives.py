"""Drives of invented cars."""

from __future__ import annotations

from typing import Any

from ebbline.measure.quantity import normal
from ebbline.records.comparison import Drive, WarningShown
from ebbline.records.result import Quantity


def known(value: float, sd: float = 0.02) -> Quantity:
    found = normal(value, sd)
    assert found is not None
    return found


def a_drive(
    name: str, usable_kwh: float | None = 60.0, reserve_kwh: float = 1.0, **more: Any
) -> Drive:
    """One that counts from 0 % to propulsion off; ``car`` is the name unless told."""
    stated: dict[str, Any] = {
        "session_id": name,
        "car": name,
        "vehicle": name,
        "usable_kwh": None if usable_kwh is None else known(usable_kwh, 0.1),
        "zero_basis": "zero_soc",
        "reserve_end": "propulsion_off",
        "reserves": {"zero_soc": (known(6000 * reserve_kwh, 20.0), known(reserve_kwh))},
    }
    return Drive(**{**stated, **more})


def an_early_one(name: str, usable_kwh: float = 60.0, **more: Any) -> Drive:
    """One that shut down before zero, at 2 % unless told."""
    stated = {"reserves": {}, "shut_down_before_zero": True, "last_soc_pct": 2.0, **more}
    return a_drive(name, usable_kwh, **{"zero_basis": None, **stated})


def a_warning(warning_class: str, left_m: float) -> WarningShown:
    """With a hundredth of what was left as its standard deviation, 150 Wh/km and 20 m/s."""
    return WarningShown(
        warning_class,
        None,
        known(left_m, left_m / 100),
        known(left_m * 0.15e-3, left_m * 0.15e-5),
        known(left_m / 20, left_m / 2000),
    )
