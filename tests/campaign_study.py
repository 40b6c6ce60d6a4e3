"""How often a comparison of cars is right, and how often it would mislead: campaigns whose truth is
known. ``python -m tests.campaign_study [--campaigns 2000] [--output FILE.md]``.

Cars have packs of 40 to 100 kWh, even by their logarithm and stated to 1 kWh, and a mean reserve of
2 kWh at 65 kWh that is a fixed amount, a share of the pack or half of each. Single cars stray from
that by 0.3 or 0.8 kWh (1 sd); a session knows its own car's to 0.02 to 0.1 kWh (1 sd). A car whose
reserve is below nothing shuts down before zero and tells only the last % it showed. All of this is
invented; what real cars stray by is what campaigns are to find out.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from ebbline.compare.cars import Counted, cars_of, reserve_before_zero
from ebbline.compare.reserve_model import NAMES, Fits
from ebbline.measure.quantity import normal, rectangular
from ebbline.records.comparison import Drive, ModelName
from ebbline.records.result import Bounds, Quantity

CARS = (5, 10, 30)
SPREADS_KWH = (0.3, 0.8)
_MEAN_KWH, _AT_KWH = 2.0, 65.0
_SHARED: dict[ModelName, float] = {"fixed": 0.0, "proportional": 1.0, "mixed": 0.5}


@dataclass(frozen=True)
class Truth:
    """What cars of a campaign have: fixed part, share of the pack, and what they stray by."""

    name: ModelName
    spread_kwh: float

    @property
    def fixed_kwh(self) -> float:
        return _MEAN_KWH * (1 - _SHARED[self.name])

    @property
    def share_pct(self) -> float:
        return 100 * _MEAN_KWH * _SHARED[self.name] / _AT_KWH


@dataclass
class Tally:
    """What came out of many campaigns with one truth and so many cars."""

    verdicts: Counter[str] = field(default_factory=Counter)
    weightiest: Counter[str] = field(default_factory=Counter)
    heavy_and_wrong: int = 0
    covered: Counter[str] = field(default_factory=Counter)
    campaigns: int = 0


def campaign(truth: Truth, cars: int, rng: np.random.Generator) -> list[Counted]:
    """One session with each of some cars."""
    usable = np.exp(rng.uniform(np.log(40), np.log(100), cars))
    reserve = truth.fixed_kwh + truth.share_pct / 100 * usable
    reserve += rng.normal(0, truth.spread_kwh, cars)
    return [_session(f"car {k}", float(usable[k]), float(reserve[k]), rng) for k in range(cars)]


def _session(car: str, usable: float, reserve: float, rng: np.random.Generator) -> Counted:
    stated = rectangular(float(round(usable)), 0.5, 0.0)
    if reserve < 0:
        soc = float(np.ceil(-reserve / usable * 100))
        drive = Drive(car, car, car, usable_kwh=stated, shut_down_before_zero=True,
                      last_soc_pct=soc)  # fmt: skip
        return Counted(drive, Bounds(None, None, 0.0), reserve_before_zero(drive))
    sd = rng.uniform(0.02, 0.1)
    drive = Drive(car, car, car, usable_kwh=stated)
    return Counted(drive, None, normal(reserve + rng.normal(0, sd), sd, floor=0.0))


def judged(truth: Truth, cars: int, campaigns: int, seed: int = 1) -> Tally:
    """What comparisons say of so many campaigns."""
    rng = np.random.default_rng([seed, NAMES.index(truth.name), cars, round(truth.spread_kwh * 10)])
    tally = Tally(campaigns=campaigns)
    for _ in range(campaigns):
        fits = Fits(cars_of(campaign(truth, cars, rng)))
        tally.verdicts[fits.verdict] += 1
        weights = {name: weight or 0.0 for name, weight in fits.weights.items()}
        heaviest = max(weights, key=lambda name: weights[name])
        tally.weightiest[heaviest] += 1
        tally.heavy_and_wrong += heaviest != truth.name and weights[heaviest] >= 0.95
        for what, told, true in _held(fits, truth, rng):
            tally.covered[what] += told is not None and told.low <= true <= told.high
    return tally


def _held(
    fits: Fits, truth: Truth, rng: np.random.Generator
) -> Iterator[tuple[str, Quantity | None, float]]:
    """Every interval that the statement may name, with its truth."""
    own, mixed = fits.model(truth.name), fits.mixed
    if truth.name != "proportional":
        yield "own_fixed", own.fixed_kwh, truth.fixed_kwh
    if truth.name != "fixed":
        yield "own_share", own.share_pct, truth.share_pct
    sd = own.between_cars_sd_kwh
    yield "spread", sd if isinstance(sd, Quantity) else None, truth.spread_kwh
    if mixed is None:
        return
    yield "mixed_fixed", mixed.coefficient(0), truth.fixed_kwh
    yield "mixed_share", fits.share(mixed.coefficient(1)), truth.share_pct
    expected = truth.fixed_kwh + truth.share_pct / 100 * fits.mean_kwh
    yield "next_car", fits.next_car, expected + float(rng.normal(0, truth.spread_kwh))


COLUMNS = {
    "own_fixed": "fixed part, its own model",
    "own_share": "share, its own model",
    "mixed_fixed": "fixed part, mixed model",
    "mixed_share": "share, mixed model",
    "spread": "what cars stray by",
    "next_car": "a further car",
}


def report(tallies: dict[tuple[Truth, int], Tally]) -> str:
    """Two tables in Markdown: conclusions, and coverage of the intervals."""
    lines = [
        "| truth | cars stray by | cars | right verdict | undecided | wrong verdict | "
        "right model weighs most | wrong model weighs 0.95 and more |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for (truth, cars), tally in tallies.items():
        right, open_ = tally.verdicts[truth.name], tally.verdicts["undecided"]
        wrong = tally.campaigns - right - open_
        shares = [
            f"{100 * count / tally.campaigns:.1f} %"
            for count in (right, open_, wrong, tally.weightiest[truth.name], tally.heavy_and_wrong)
        ]
        lines.append(" | ".join([f"| {truth.name}", f"{truth.spread_kwh:g} kWh", str(cars),
                                 *shares]) + " |")  # fmt: skip
    lines += [
        "",
        f"| truth | cars stray by | cars | {' | '.join(COLUMNS.values())} |",
        "|---" * (3 + len(COLUMNS)) + "|",
    ]
    for (truth, cars), tally in tallies.items():
        shares = [
            f"{100 * tally.covered[key] / tally.campaigns:.1f} %" if key in tally.covered else "–"
            for key in COLUMNS
        ]
        lines.append(" | ".join([f"| {truth.name}", f"{truth.spread_kwh:g} kWh", str(cars),
                                 *shares]) + " |")  # fmt: skip
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study and print it, or write it to a file."""
    parser = argparse.ArgumentParser(prog="python -m tests.campaign_study", description=__doc__)
    parser.add_argument("--campaigns", type=int, default=2000, help="of each setting")
    parser.add_argument("--output", type=Path, help="a Markdown file; else it is printed")
    asked = parser.parse_args(arguments)
    began_s = time.monotonic()
    tallies = {}
    for spread_kwh in SPREADS_KWH:
        for name in NAMES:
            for cars in CARS:
                truth = Truth(name, spread_kwh)
                tallies[truth, cars] = judged(truth, cars, asked.campaigns)
                took_s = time.monotonic() - began_s
                print(f"{name}, {cars} cars, {took_s:.0f} s", file=sys.stderr, flush=True)
    text = report(tallies)
    if asked.output:
        asked.output.write_text(text + "\n", encoding="utf-8")
    else:
        print(text)


if __name__ == "__main__":
    main()
