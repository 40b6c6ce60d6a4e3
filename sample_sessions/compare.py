"""Hold Ebbline's figures for the sample sessions against the truth kept beside them.

``python sample_sessions/compare.py [NAME …]`` prints, for each sample, every figure of the
result document that has a truth: Ebbline's value, its 95 % interval, the truth, and whether the
interval holds it. The name ``campaign`` prints the reserves of its sessions and what the comparison
makes of them.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console
from rich.markup import escape
from rich.table import Table
from simulator import decimals

from ebbline.compare.comparison import compare
from ebbline.exchange.drives import drive_of
from ebbline.exchange.result_document import to_document
from ebbline.exchange.session_file import load_file, to_session
from ebbline.measure.analysis import analyze
from ebbline.records.comparison import Comparison, Figure

HERE = Path(__file__).resolve().parent
CAMPAIGN = "campaign/campaign"

_SAME_LAP_MS = 5000
_PLAIN_KEYS = ("basis", "shut_down_before_zero", "ends_at")


@dataclass(frozen=True, slots=True)
class Row:
    """One figure beside its truth; all None where Ebbline says it can't know, and the value alone
    where it knows bounds.
    """

    figure: str
    value: float | None
    low: float | None
    high: float | None
    truth: float

    @property
    def inside(self) -> bool | None:
        """Whether the interval holds the truth; None where no figure is given."""
        if self.low is None or self.high is None:
            return None
        rounded = 0.5 * 10.0 ** -decimals.alone(self.truth)  # as the truth file is
        return self.low - rounded <= self.truth <= self.high + rounded


def names() -> list[str]:
    """Every sample beside this file, the campaign's apart."""
    return sorted(path.name.removesuffix(".truth.json") for path in HERE.glob("*.truth.json"))


def read_truth(name: str) -> dict[str, Any]:
    """The truth of a sample, or of the campaign."""
    truth: dict[str, Any] = json.loads((HERE / f"{name}.truth.json").read_bytes())
    return truth


def read_document(name: str) -> dict[str, Any]:
    """A sample's document, out of its file with pictures or without."""
    (path,) = (HERE / name).parent.glob(f"{Path(name).name}.ebbline.*")
    return load_file(path.read_bytes())[0]


def result_of(name: str) -> dict[str, Any]:
    """The result document of a sample, from its session file alone."""
    return result_of_document(read_document(name))


def result_of_document(document: dict[str, Any]) -> dict[str, Any]:
    """The result document of a session file's document."""
    return to_document(analyze(to_session(document)).result, "")


def comparison_of_campaign() -> Comparison:
    """What the campaign's session files say together, by its definition."""
    definition = json.loads((HERE / f"{CAMPAIGN}.json").read_bytes())
    drives = []
    for session in read_truth(CAMPAIGN)["sessions"]:
        if session["session_id"] in definition["session_ids"]:
            document = read_document(f"campaign/{session['name']}")
            drives.append(drive_of(document, result_of_document(document)))
    return compare(drives, definition["zero_basis"], definition["reserve_end"])


def campaign_rows(comparison: Comparison, truth: dict[str, Any]) -> Iterator[Row]:
    """The reserve of each session, and the rule behind them as the mixed model has it."""
    truths = {session["session_id"]: session for session in truth["sessions"]}
    for session in comparison.sessions:
        true = truths[session.session_id]
        for key in ("reserve_kwh", "reserve_m"):
            if true[key] is not None:
                yield _row(f"{true['name']}.{key}", getattr(session, key), true[key])
    (mixed,) = (model for model in comparison.reserve_model.models if model.name == "mixed")
    for key in ("fixed_kwh", "share_pct"):
        yield _row(f"mixed.{key}", getattr(mixed, key), truth["rule"][key])


def _row(place: str, figure: Figure, true: float) -> Row:
    if figure is None:
        return Row(place, None, None, None, true)
    return Row(place, figure.value, figure.low, figure.high, true)


def rows(result: dict[str, Any], truth: dict[str, Any]) -> list[Row]:
    """Every figure that has a truth, in the order of the result document."""
    found: list[Row] = []
    for part in ("distance", "lap_check", "trip_check", "zero", "reserve"):
        found += _matching(part, result[part], truth[part])
    found += _laps(result["laps"], truth)
    found += _by_key("timeline", "event_id", result["timeline"], truth["timeline"])
    found += _gaps(result["distance"]["gaps"], truth["run"])
    found += _limits(result["limits"], truth)
    for part in ("recharge", "consumption", "balance"):
        found += _matching(part, result[part], truth[part])
    if result["recharge"] and truth["recharge"]:
        found += _by_key(
            "recharge.energy_to_soc",
            "soc_pct",
            result["recharge"]["energy_to_soc"],
            truth["recharge"]["energy_to_soc"],
        )
    return found


def plain_differences(result: dict[str, Any], truth: dict[str, Any]) -> list[str]:
    """What isn't a quantity and differs: the basis of zero, how the reserve ended."""
    return [
        f"{part}.{key}: {result[part][key]!r}, in truth {truth[part][key]!r}"
        for part in ("zero", "reserve")
        if truth[part] is not None
        for key in _PLAIN_KEYS
        if key in truth[part] and result[part][key] != truth[part][key]
    ]


def _matching(
    place: str, result: dict[str, Any] | None, truth: dict[str, Any] | None
) -> Iterator[Row]:
    """Rows for the keys of ``truth`` that are numbers where ``result`` has a quantity or null."""
    for key, true in (truth or {}).items():
        if isinstance(true, bool) or not isinstance(true, (int, float)):
            continue
        figure = None if result is None else result.get(key)
        if figure is None:
            yield Row(f"{place}.{key}", None, None, None, true)
        elif isinstance(figure, dict):
            yield Row(f"{place}.{key}", figure["value"], figure["low"], figure["high"], true)


def _by_key(
    place: str, key: str, results: list[dict[str, Any]], truths: list[dict[str, Any]]
) -> Iterator[Row]:
    by_key = {entry[key]: entry for entry in results}
    for truth in truths:
        label = f"{place}[{truth.get('kind', truth[key])}]"
        yield from _matching(label, by_key.get(truth[key]), {**truth, key: None})


def _laps(results: list[dict[str, Any]], truth: dict[str, Any]) -> Iterator[Row]:
    """Each lap that Ebbline gives; one that spans a crossing it missed is held against both laps.

    With no known gate, laps are cut where Ebbline found it best, and only length and energy
    have a truth.
    """
    for i, lap in enumerate(results if truth["laps"] else ()):
        covered = [true for true in truth["laps"] if _overlap_ms(lap, true) > _SAME_LAP_MS]
        expected = {
            key: sum(true[key] for true in covered)
            for key in ("length_m", "duration_s", "energy_kwh")
        }
        yield from _matching(f"laps[{i}]", lap, expected)
    if truth["laps"]:
        return
    run = truth["run"]
    for i, lap in enumerate(results):
        ends = np.interp([lap["from_ms"], lap["to_ms"]], run["t_ms"], run["energy_kwh"])
        expected = {
            "length_m": truth["lap_check"]["measured_m"],
            "energy_kwh": float(ends[1] - ends[0]),
        }
        yield from _matching(f"laps[{i}]", lap, expected)


def _gaps(results: list[dict[str, Any]], run: dict[str, Any]) -> Iterator[Row]:
    """The distance across each gap that Ebbline found, by the truth between the same moments."""
    for i, gap in enumerate(results):
        ends = np.interp([gap["from_ms"], gap["to_ms"]], run["t_ms"], run["distance_m"])
        yield from _matching(f"distance.gaps[{i}]", gap, {"bridged_m": float(ends[1] - ends[0])})


def _limits(results: list[dict[str, Any]], truth: dict[str, Any]) -> Iterator[Row]:
    """Each stretch of full throttle, matched by its end, where it had settled.

    Its place is that of its middle.
    """
    run, zero = truth["run"], truth["zero"]
    for i, true in enumerate(truth["limits"]):
        overlapping = [limit for limit in results if _overlap_ms(limit, true) > 0]
        limit = min(
            overlapping, key=lambda limit: abs(limit["to_ms"] - true["to_ms"]), default=None
        )
        expected = {key: true[key] for key in ("speed_mps", "road_load_kw")}
        if limit is not None and zero is not None:
            middle_ms = (limit["from_ms"] + limit["to_ms"]) / 2
            for key, column in (
                ("past_zero_m", "distance_m"),
                ("energy_past_zero_kwh", "energy_kwh"),
            ):
                at = np.interp([zero["t_ms"], middle_ms], run["t_ms"], run[column])
                expected[key] = float(at[1] - at[0])
        yield from _matching(f"limits[{i}]", limit, expected)


def _overlap_ms(one: dict[str, Any], other: dict[str, Any]) -> float:
    """How long two spans have in common; negative when they have a gap between them."""
    return float(min(one["to_ms"], other["to_ms"]) - max(one["from_ms"], other["from_ms"]))


def _print(name: str, console: Console) -> None:
    if name == Path(CAMPAIGN).name:
        _print_campaign(console)
        return
    result, truth = result_of(name), read_truth(name)
    _print_rows(name, rows(result, truth), console)
    for difference in plain_differences(result, truth):
        console.print(f"differs: {difference}")


def _print_campaign(console: Console) -> None:
    comparison, truth = comparison_of_campaign(), read_truth(CAMPAIGN)
    _print_rows("campaign", list(campaign_rows(comparison, truth)), console)
    console.print(escape(comparison.reserve_model.statement))
    rule = truth["rule"]
    console.print(
        f"In truth: {rule['fixed_kwh']:g} kWh and {rule['share_pct']:g} % of the usable energy, "
        f"from which cars differ by {rule['between_cars_sd_kwh']:g} kWh (one standard deviation)."
    )


def _print_rows(title: str, compared: list[Row], console: Console) -> None:
    table = Table("figure", "Ebbline", "95 % interval", "truth", "inside?", title=title)
    for row in compared:
        given = row.low is not None or row.high is not None
        table.add_row(
            escape(row.figure),
            _number(row.value),
            f"{_number(row.low)} … {_number(row.high)}" if given else "not known",
            _number(row.truth),
            {True: "yes", False: "NO", None: ""}[row.inside],
        )
    console.print(table)
    judged: list[bool] = [row.inside for row in compared if row.inside is not None]
    inside = sum(judged)
    console.print(f"{inside} of {len(judged)} intervals hold the truth; {len(compared)} figures.")


def _number(value: float | None) -> str:
    if value is None:
        return "—"
    return (
        f"{value:.0f}"
        if abs(value) >= 1e6
        else f"{value:.4g}"
        if abs(value) < 1
        else f"{value:,.3f}"
    )


if __name__ == "__main__":
    for wanted in sys.argv[1:] or [*names(), Path(CAMPAIGN).name]:
        _print(wanted, Console(width=140 if not sys.stdout.isatty() else None))
