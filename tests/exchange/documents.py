"""Session documents for the tests of the exchange: a small real one, and any valid one."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from ebbline.exchange.fields import EARLIEST_MS, LATEST_MS
from ebbline.vocabulary import EVENTS, READINGS

T_MS = 1_772_460_000_000
ID = "6f1f1d36-6d3e-4b53-9d6a-0c8f4f0b7a11"


def a_run(
    session_id: str = ID, car: str = "Sample car A", usable_kwh: float = 58
) -> dict[str, Any]:
    """The least that a comparison counts: zero, the end, and what the trip meter showed at both."""
    shown = (("trip_distance", 10, 18, "km"), ("trip_energy", 2, 2 + usable_kwh / 50, "kWh"))
    return {
        "format": "ebbline-session",
        "version": 1,
        "session": {"id": session_id, "started_at": "2026-03-02T15:00:00Z"},
        "vehicle": {"label": car, "pack": {"usable_kwh": usable_kwh}},
        "events": [
            {"id": kind, "device": "phone-1", "t_ms": T_MS + after_ms, "kind": kind}
            for kind, after_ms in (("zero_soc", 0), ("propulsion_off", 600_000))
        ],
        "readings": [
            {"id": f"{quantity} {at}", "device": "phone-1", "t_ms": T_MS + 600_000 * at,
             "quantity": quantity, "value": values[at], "unit": unit, "resolution": 0.1,
             "rounding": "nearest"}
            for quantity, *values, unit in shown
            for at in (0, 1)
        ],
    }  # fmt: skip


def a_document() -> dict[str, Any]:
    """Every part of the format once, three fixes, two events, two readings, one photo."""
    return {
        "format": "ebbline-session",
        "version": 1,
        "session": {
            "id": ID,
            "title": "Invented",
            "started_at": "2026-03-02T15:04:05+01:00",
            "time_zone": "Europe/Vienna",
            "notes": "made for a test",
        },
        "vehicle": {
            "label": "Sample car A",
            "software": "1",
            "odometer_km": 3120,
            "pack": {"usable_kwh": 58.0, "series_cells": 96, "chemistry": "NMC"},
            "road_load": {
                "a_n": 110.0,
                "b_n_per_mps": 1.2,
                "c_n_per_mps2": 0.42,
                "driveline_efficiency": 0.9,
            },
        },
        "conditions": {"ambient_c": 9.0, "climate": "on", "full_charge_before": True},
        "protocol": {
            "start_soc_pct": 5,
            "speed_band_kmh": [50, 90],
            "tap_delay_s": {"mean": 0.9, "sd": 0.4},
            "zero_basis": "zero_soc",
            "charging_efficiency": 0.93,
        },
        "course": {
            "label": "Course One",
            "surveyed_lap_m": 2400.0,
            "surveyed_lap_sd_m": 0.5,
            "closed": True,
            "gate": {"lat": 12.0, "lon": -38.0, "heading_deg": 90.0, "half_width_m": 20.0},
        },
        "devices": [{"id": "phone-1", "clock_offset_ms": -250, "clock_offset_sd_ms": 20}],
        "breadcrumbs": [
            {
                "device": "phone-1",
                "seq": [0, 1, 5],
                "t_ms": [T_MS, T_MS + 1000, T_MS + 1000],
                "lat": [12.0, 12.0001, 12.0002],
                "lon": [-38.0, -38, -38.0],
                "accuracy_m": [4.2, 4, None],
                "speed_mps": [13.8, None, 0],
                "heading_deg": [0.0, None, 360],
                "altitude_m": [None, None, -3.5],
                "page": ["a", None, "b"],
                "mono_ms": [1.5, 2, None],
            }
        ],
        "events": [
            {"id": "e0", "device": "phone-1", "t_ms": T_MS, "kind": "warning", "text": "low"},
            {
                "id": "e1",
                "device": "phone-1",
                "t_ms": T_MS + 900,
                "kind": "speed_capped",
                "value": 90,
                "unit": "km/h",
                "tap_delay_s": 0.5,
                "corrects": "e0",
            },
        ],
        "readings": [
            {
                "id": "r0",
                "device": "desk",
                "t_ms": T_MS,
                "quantity": "trip_energy",
                "value": 1.2,
                "unit": "kWh",
                "resolution": 0.1,
                "rounding": "down",
                "source": "typed",
                "photo": "ab" * 32,
            },
            {
                "id": "r1",
                "device": "desk",
                "t_ms": T_MS,
                "quantity": "trip_energy",
                "value": None,
                "unit": "kWh",
                "corrects": "r0",
            },
        ],
        "photos": [
            {"sha256": "ab" * 32, "t_ms": T_MS, "device": "phone-1", "media_type": "image/jpeg"}
        ],
    }


def at(document: Any, path: tuple[str | int, ...]) -> Any:
    """The part of a document at a path of keys and indices."""
    for step in path:
        document = document[step]
    return document


# --- any valid document -------------------------------------------------------------------------

_text = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
_real = st.floats(-1e6, 1e6) | st.integers(-(10**6), 10**6)
_name = st.text(
    st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), min_size=1, max_size=12
)
_moment = st.integers(EARLIEST_MS, LATEST_MS - 1)
_anything = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**63), 2**64 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | _text,
    lambda part: st.lists(part, max_size=3) | st.dictionaries(_text, part, max_size=3),
    max_leaves=6,
)
_unknown = st.dictionaries(_name.map("x-".__add__), _anything, max_size=2)


def _positive(high: float = 1e6) -> st.SearchStrategy[float]:
    return st.floats(0, high, exclude_min=True)


def _object(
    optional: dict[str, st.SearchStrategy[Any]], **required: st.SearchStrategy[Any]
) -> st.SearchStrategy[dict[str, Any]]:
    known = st.fixed_dictionaries(
        required, optional={key: st.none() | value for key, value in optional.items()}
    )
    return st.tuples(_unknown, known).map(lambda parts: {**parts[0], **parts[1]})


_delay = _object({}, mean=_real.filter(lambda mean: abs(mean) <= 86_400), sd=st.floats(0, 100))
_setup: dict[str, st.SearchStrategy[Any]] = {
    "vehicle": _object(
        {
            "label": _text,
            "software": _text,
            "odometer_km": st.floats(0, 1e6),
            "pack": _object(
                {
                    "usable_kwh": _positive(1000),
                    "series_cells": st.integers(1, 500),
                    "chemistry": _text,
                }
            ),
            "road_load": _object(
                {"driveline_efficiency": _positive(1)},
                a_n=_real,
                b_n_per_mps=_real,
                c_n_per_mps2=_real,
            ),
        }
    ),
    "conditions": _object({"ambient_c": st.floats(-60, 60), "battery_warmed": st.booleans()}),
    "protocol": _object(
        {
            "start_soc_pct": st.floats(0, 100),
            "speed_band_kmh": st.lists(st.integers(0, 300), min_size=2, max_size=2).map(sorted),
            "tap_delay_s": _delay,
            "zero_basis": st.sampled_from(["zero_soc", "zero_range"]),
            "charging_efficiency": _positive(1),
        }
    ),
    "course": _object(
        {
            "label": _text,
            "surveyed_lap_m": _positive(),
            "surveyed_lap_sd_m": st.floats(0, 100),
            "closed": st.booleans(),
            "gate": _object(
                {},
                lat=st.floats(-90, 90),
                lon=st.floats(-180, 180),
                heading_deg=st.floats(0, 360),
                half_width_m=_positive(),
            ),
        }
    ),
    "devices": st.lists(
        _object(
            {"label": _text, "clock_offset_ms": _real, "clock_offset_sd_ms": st.floats(0, 1e6)},
            id=_name,
        ),
        max_size=3,
        unique_by=lambda device: device["id"],
    ),
}


@st.composite
def _breadcrumbs(draw: st.DrawFn, device: str) -> dict[str, Any]:
    seq = sorted(draw(st.sets(st.integers(0, 2**53), max_size=5)))
    column = lambda values: st.lists(values, min_size=len(seq), max_size=len(seq))  # noqa: E731
    return draw(
        _object(
            {
                "accuracy_m": column(st.none() | st.floats(0, 1e4)),
                "speed_mps": column(st.none() | st.floats(0, 90) | st.integers(0, 90)),
                "heading_deg": column(st.none() | st.floats(0, 360)),
                "altitude_m": column(st.none() | _real),
                "fix_ms": column(st.none() | _real),
                "page": column(st.none() | _text),
            },
            device=st.just(device),
            seq=st.just(seq),
            t_ms=column(_moment).map(sorted),
            lat=column(st.floats(-90, 90)),
            lon=column(st.floats(-180, 180)),
        )
    )


@st.composite
def _log(draw: st.DrawFn, device: str) -> dict[str, Any]:
    t_ms = sorted(draw(st.lists(_moment, max_size=5)))
    column = lambda values: st.lists(values, min_size=len(t_ms), max_size=len(t_ms))  # noqa: E731
    return draw(
        _object(
            {
                "label": _text,
                "voltage_v": column(st.none() | st.floats(0, 1000)),
                "current_a": column(st.none() | _real),
                "power_kw": column(st.none() | _real),
                "speed_mps": column(st.none() | st.floats(0, 90)),
                "soc_pct": column(st.none() | st.floats(0, 100)),
            },
            device=st.just(device),
            source_sha256=st.text("0123456789abcdef", min_size=64, max_size=64),
            t_ms=st.just(t_ms),
        )
    )


@st.composite
def _records(draw: st.DrawFn, kind: st.SearchStrategy[dict[str, Any]]) -> list[dict[str, Any]]:
    """Records of one kind, some of which correct an earlier one."""
    found: list[dict[str, Any]] = []
    for record_id in draw(st.lists(_name, max_size=4, unique=True)):
        record = {**draw(kind), "id": record_id}
        if found and draw(st.booleans()):
            record["corrects"] = draw(st.sampled_from([earlier["id"] for earlier in found]))
            if "quantity" in record and draw(st.booleans()):
                record["value"] = None
        found.append(record)
    return found


_event = _object(
    {
        "text": _text,
        "value": st.floats(0, 100),
        "tap_delay_s": _delay | st.floats(0, 5),
        "by": _text,
        "done_by": _text,
    },
    device=_name,
    t_ms=_moment,
    kind=st.sampled_from([*EVENTS]) | _name,
    unit=st.sampled_from(["km/h", "mph"]),
)
_reading = st.sampled_from([*READINGS]).flatmap(
    lambda quantity: _object(
        {
            "resolution": _positive(),
            "rounding": st.sampled_from(["nearest", "down"]),
            "source": _text,
            "photo": st.just("0" * 64),
        },
        device=_name,
        t_ms=_moment,
        quantity=st.just(quantity),
        value=st.floats(0, 100),
        unit=st.sampled_from(READINGS[quantity].units),
    )
)


@st.composite
def documents(draw: st.DrawFn) -> dict[str, Any]:
    """Any valid session document, with unknown keys at every level."""
    names = draw(st.lists(_name, max_size=2, unique=True))
    session = _object(
        {
            "title": _text,
            "started_at": st.sampled_from(["1985-04-12T23:20:50.52Z", "1996-12-19T16:39:57-08:00"]),
            "time_zone": st.sampled_from(["Europe/Vienna", "UTC"]),
        },
        id=st.uuids().map(str),
    )
    return draw(
        _object(
            {
                **_setup,
                "breadcrumbs": st.tuples(*(_breadcrumbs(name) for name in names)).map(list),
                "logs": st.tuples(*(_log(name) for name in names)).map(list),
                "events": _records(_event),
                "readings": _records(_reading),
                "photos": st.lists(
                    _object(
                        {"t_ms": _moment, "device": _name, "media_type": _text},
                        sha256=st.text("0123456789abcdef", min_size=64, max_size=64),
                    ),
                    max_size=2,
                    unique_by=lambda photo: photo["sha256"],
                ),
            },
            format=st.just("ebbline-session"),
            version=st.just(1),
            session=session,
        )
    )
