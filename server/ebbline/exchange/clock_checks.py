"""What comparisons of a device's clock with the server's say of its offset."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from ebbline.errors import InputError
from ebbline.exchange.document import check_event

_NUMBERS = ("offset_ms", "round_trip_ms")


def check(raw: object, where: str) -> None:
    """Refuse a malformed clock check.

    Raises:
        InputError: names the place and what is wrong there.
    """
    # An id, a device and a moment are what every event has, so the same door judges them.
    if not isinstance(raw, dict):
        raise InputError(where, "must be an object")
    check_event(
        {"kind": "note", **{key: raw[key] for key in ("id", "device", "t_ms") if key in raw}},
        where,
    )
    for key in _NUMBERS:
        value = raw.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise InputError(f"{where}.{key}", "must be a number")
        if not math.isfinite(value) or abs(value) > 1e13:
            raise InputError(f"{where}.{key}", f"is {value}, out of every range")
    if raw["round_trip_ms"] < 0:
        raise InputError(f"{where}.round_trip_ms", f"is {raw['round_trip_ms']}, below zero")


def with_offsets(setup: dict[str, Any], checks: Iterable[dict[str, Any]]) -> dict[str, Any]:
    """The set-up with each device's clock offset, where it gives none itself.

    The check with the shortest round trip says most: the server's stamp lies anywhere within
    it, so the offset is uniform over the round trip and its standard deviation is
    round trip / (2 √3) (JCGM 100:2008, 4.3.7).
    """
    best: dict[str, dict[str, Any]] = {}
    for check_ in checks:
        held = best.get(check_["device"])
        if held is None or check_["round_trip_ms"] < held["round_trip_ms"]:
            best[check_["device"]] = check_
    if not best:
        return setup
    devices = []
    for device in setup.get("devices") or []:
        found = best.pop(device["id"], None)
        known = device.get("clock_offset_ms") is not None
        devices.append(device if found is None or known else {**device, **_offset(found)})
    devices += [{"id": name, **_offset(check_)} for name, check_ in best.items()]
    return {**setup, "devices": devices}


def _offset(check_: dict[str, Any]) -> dict[str, float]:
    return {
        "clock_offset_ms": check_["offset_ms"],
        "clock_offset_sd_ms": check_["round_trip_ms"] / 2 / math.sqrt(3),
    }
