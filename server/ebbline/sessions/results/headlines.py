"""A result's headline figures: what the list keeps of it, and by how much they changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from ebbline.records.result import Quantity
from ebbline.vocabulary import DRIVING_KINDS

Dimension = Literal[
    "distance", "energy", "duration", "percent", "consumption", "power", "ratio"
]  # as in report.figures

# Whoever reads a figure with less than this share of its half-width moved can't tell.
TELLING_SHARE = 0.05


@dataclass(frozen=True, slots=True)
class Headline:
    """One headline figure: its name in lists and tables, where a result document has it, what it
    is, and its words inside a sentence.
    """

    key: str
    path: tuple[str, ...]
    dimension: Dimension
    words: str


_TABLE: tuple[tuple[str, str, Dimension, str], ...] = (
    ("reserve_distance_m", "reserve.distance_m", "distance",
     "distance past zero"),
    ("reserve_energy_kwh", "reserve.energy_kwh", "energy",
     "energy past zero"),
    ("reserve_duration_s", "reserve.duration_s", "duration",
     "time past zero"),
    ("share_of_usable_pct", "reserve.share_of_usable_pct", "percent",
     "share of the usable energy"),
    ("consumption_wh_per_km", "consumption.past_zero_wh_per_km", "consumption",
     "consumption past zero"),
    ("from_zero_range_m", "reserve.from_zero_range.distance_m", "distance",
     "distance from 0 range"),
    ("from_zero_range_kwh", "reserve.from_zero_range.energy_kwh", "energy",
     "energy from 0 range"),
    ("from_zero_soc_m", "reserve.from_zero_soc.distance_m", "distance",
     "distance from 0 %"),
    ("from_zero_soc_kwh", "reserve.from_zero_soc.energy_kwh", "energy",
     "energy from 0 %"),
    ("speed_held_until_m", "held_speed.last_held.past_zero_m", "distance",
     "distance until the speed could no longer be held"),
    ("total_distance_m", "distance.total_m", "distance",
     "distance driven in all"),
    ("trip_meter_ratio", "trip_check.ratio", "ratio",
     "the car's trip meter against ours"),
    ("lap_ratio", "lap_check.ratio", "ratio",
     "measured against surveyed lap"),
    ("trickle_s", "recharge.trickle_s", "duration",
     "time on the trickle"),
    ("trickle_kw", "recharge.trickle_kw", "power",
     "power on the trickle"),
    ("full_power_kw", "recharge.full_power_kw", "power",
     "full charging power"),
    ("energy_in_kwh", "recharge.energy_in_kwh", "energy",
     "energy charged"),
    ("recharged_below_zero_kwh", "recharge.below_zero_kwh", "energy",
     "energy charged below 0 %"),
)  # fmt: skip
HEADLINES = tuple(
    Headline(key, tuple(path.split(".")), dimension, words)
    for key, path, dimension, words in _TABLE
)


def figures_of(result: Mapping[str, Any]) -> dict[str, Any]:
    """The headline figures of a result document by key, and what they are counted from and to."""
    findings = [finding["severity"] for finding in result["findings"]]
    return {
        **{headline.key: _at(result, headline.path) for headline in HEADLINES},
        "zero_basis": result["zero"]["basis"],
        "reserve_end": result["reserve"]["ends_at"],
        "distance_basis": result["reserve"].get("basis"),
        "outcome": outcome_of(result),
        "doubts": findings.count("doubt"),
        "errors": findings.count("error"),
    }


def outcome_of(result: Mapping[str, Any]) -> str | None:
    """How a run went: 'past zero', 'before zero', 'no drive', None where nothing tells."""
    reserve = result["reserve"]
    if reserve["shut_down_before_zero"]:
        return "before zero"
    if reserve["distance_m"] is not None or reserve["energy_kwh"] is not None:
        return "past zero"
    tapped = any(entry["kind"] in DRIVING_KINDS for entry in result["timeline"])
    return None if tapped or result["distance"]["total_m"] is not None else "no drive"


@dataclass(frozen=True, slots=True)
class Change:
    """A headline figure that is no longer what it was; None: not known."""

    headline: Headline
    old: Quantity | None
    new: Quantity | None


def changes(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[Change]:
    """Which headline figures changed so that a reader could tell, from ``figures_of`` two results.

    A value or an end must have moved by more than a twentieth of the old interval's half-width.
    """
    found = []
    for headline in HEADLINES:
        before, after = quantity(old.get(headline.key)), quantity(new.get(headline.key))
        if _tells_apart(before, after):
            found.append(Change(headline, before, after))
    return found


def differ(old: Mapping[str, Any], new: Mapping[str, Any]) -> bool:
    """Whether what was found is another figure or another outcome."""
    ways = ("outcome", "zero_basis", "reserve_end")
    return bool(changes(old, new)) or any(old.get(way) != new.get(way) for way in ways)


def quantity(found: Mapping[str, float] | None) -> Quantity | None:
    """A quantity of a document as a record."""
    return None if found is None else Quantity(found["value"], found["low"], found["high"])


def _tells_apart(old: Quantity | None, new: Quantity | None) -> bool:
    if old is None or new is None:
        return old is not new
    half_width = (old.high - old.low) / 2
    moved = max(abs(new.value - old.value), abs(new.low - old.low), abs(new.high - old.high))
    return moved > max(TELLING_SHARE * half_width, 1e-9 * abs(old.value))


def _at(document: Any, path: tuple[str, ...]) -> Any:
    for key in path:
        if document is None:
            return None
        document = document.get(key)
    return document
