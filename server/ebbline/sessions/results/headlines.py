"""A result's headline figures: what the list keeps of it, and what readers are told by it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ebbline.report.figures import Dimension
from ebbline.report.told import Account, Told
from ebbline.sessions.results.telling import counted_from, ended_at, figure
from ebbline.vocabulary import DRIVING_KINDS

_OUTCOMES = {
    "past zero": "the car drove past zero",
    "before zero": "the car shut down before zero",
    "no drive": "there was no drive",
}


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


def account_of(figures: Mapping[str, Any]) -> Account:
    """What readers are told by the headline figures, as ``figures_of`` has them."""
    return Account(
        figures=tuple(
            Told(one.key, one.words, one.dimension, figure(figures.get(one.key)))
            for one in HEADLINES
        ),
        sayings={
            "outcome": _OUTCOMES.get(figures.get("outcome") or "", "nothing tells how it ended"),
            "zero_basis": counted_from(figures.get("zero_basis")),
            "reserve_end": ended_at(figures.get("reserve_end")),
        },
        scope="headline figures",
    )


def _at(document: Any, path: tuple[str, ...]) -> Any:
    for key in path:
        if document is None:
            return None
        document = document.get(key)
    return document
