"""What readers are told by a campaign: the answer, each car's figures, how far warnings go."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from ebbline.report.figures import Dimension
from ebbline.report.told import Account, Told
from ebbline.sessions.results.telling import counted_from, ended_at, figure
from ebbline.vocabulary import FACTS, warning_class_name

_VERDICTS = {
    "fixed": "the reserve is more a fixed amount than a share of the pack",
    "proportional": "the reserve is more a share of the pack than a fixed amount",
    "mixed": "the reserve has a fixed part and grows with the pack",
    "undecided": "these cars don\u2019t tell whether the reserve is a fixed amount or a share of "
    "the pack",
}
_OF_MODELS: tuple[tuple[str, str, str, Dimension], ...] = (
    ("fixed", "fixed_kwh", "the reserve, if it is a fixed amount,", "energy"),
    ("proportional", "share_pct", "the reserve, if it is a share of the pack,", "percent"),
    ("mixed", "fixed_kwh", "the fixed part, if it is some of both,", "energy"),
    ("mixed", "share_pct", "the share of the pack, if it is some of both,", "percent"),
)
_OF_SESSIONS: tuple[tuple[str, str, Dimension], ...] = (
    ("reserve_m", "distance past zero", "distance"),
    ("reserve_kwh", "energy past zero", "energy"),
    ("share_of_usable_pct", "share of the usable energy", "percent"),
    ("consumption_wh_per_km", "consumption past zero", "consumption"),
)
_LEFT: tuple[tuple[str, str, Dimension], ...] = (
    ("m", "distance", "distance"),
    ("kwh", "energy", "energy"),
    ("s", "time", "duration"),
)


def account_of(comparison: Mapping[str, Any], names: Mapping[str, str]) -> Account:
    """What a comparison document tells.

    Args:
        comparison: the document.
        names: what each session that it looked at is called, by id.
    """
    model = comparison["reserve_model"]
    sayings = {
        "verdict": _VERDICTS[model["verdict"]],
        "zero_basis": counted_from(comparison["zero_basis"]),
        "reserve_end": ended_at(comparison["reserve_end"]),
        **{
            f"session {one['session_id']}": f"{names[one['session_id']]} is compared"
            for one in comparison["sessions"]
        },
        **{
            f"session {one['session_id']}": f"{names[one['session_id']]} is left out "
            f"({one['why'].rstrip('.')})"
            for one in comparison["left_out"]
        },
        **{
            f"warning {one['class']}": f"\u201c{warning_class_name(one['class'])}\u201d was seen "
            f"in {_cars(one['n'])}"
            for one in comparison["warnings"]
        },
    }
    return Account(
        figures=tuple(_figures(comparison, names)),
        sayings=sayings,
        scope="figures of the campaign",
        text=model["statement"],
    )


def _figures(comparison: Mapping[str, Any], names: Mapping[str, str]) -> Iterator[Told]:
    model = comparison["reserve_model"]
    by_name = {one["name"]: one for one in model["models"]}
    for name, key, words, dimension in _OF_MODELS:
        yield Told(f"{name}.{key}", words, dimension, figure(by_name[name][key]))
    yield Told("next_car_kwh", "the reserve to be expected of a further car with the mean pack",
               "energy", figure(model["next_car_kwh"]))  # fmt: skip
    for row in comparison["sessions"]:
        one = row["session_id"]
        for key, words, dimension in _OF_SESSIONS:
            yield Told(f"{one}.{key}", words, dimension, figure(row[key]), names[one])
    for warning in comparison["warnings"]:
        of = f"\u201c{warning_class_name(warning['class'])}\u201d"
        for unit, words, dimension in _LEFT:
            for which in ("least", "median"):
                key = f"{which}_left_{unit}"
                yield Told(f"{warning['class']}.{key}", f"{which} {words} left", dimension,
                           figure(warning[key]), of)  # fmt: skip
            bound = warning["bound"][f"left_{unit}"]
            exact = None if bound is None else dict.fromkeys(("value", "low", "high"), bound)
            yield Told(f"{warning['class']}.bound.{unit}",
                       f"{words} left with {warning['bound']['share'] * 100:.0f} % of cars",
                       dimension, figure(exact), of)  # fmt: skip
    for repeat in comparison["repeats"]:
        first, later = repeat["session_ids"]
        for key, dimension in (("difference_m", "distance"), ("difference_kwh", "energy")):
            yield Told(f"{first} {later}.{key}", f"difference in {dimension} from the first drive",
                       dimension, figure(repeat[key]), names[later])  # fmt: skip
    for one in model["influences"]:
        level = one["level"]
        words = f"change of the reserve with {level}" if level else "change of the reserve with"
        step = None if level else (one["per"], one["unit"])
        yield Told(f"{one['of']} {level or step}", words, "energy", figure(one["change_kwh"]),
                   _influence(one["of"]), step)  # fmt: skip


def _influence(of: str) -> str:
    return FACTS[of].name if of in FACTS else "Consumption past zero"


def _cars(n: int) -> str:
    return "1 car" if n == 1 else f"{n} cars"
