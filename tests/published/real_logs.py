"""What others' recorders really wrote, held against what is known of the truth.

``python -m tests.published.real_logs`` prints three tables: the whole logs, stretches cut out of
the rides, and the pauses that the rides really made. ``real/`` holds the logs, each with its source
and licence; LICENCES.txt holds the licences' texts.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import numpy as np
from pyproj import Geod

from ebbline.exchange.result_document import to_document
from ebbline.exchange.session_file import check_document, to_session
from ebbline.measure.analysis import analyze
from ebbline.measure.numerics.stretches import stretches

HERE = Path(__file__).resolve().parent / "real"
START_MS = 1_772_460_000_000

# How far the truth itself may be off: a wheel whose size nobody measured, one whose ratio to the
# positions changes along the way, a watch that counts by its own means (see each file's 'what').
TRUTH_OFF = {"ride-steady": 0.003, "ride-pauses": 0.01, "run": 0.01, "motorway-minute": 0.001}
CUT_S = (5, 15, 60, 180, 600, 1500)
PAUSE_S = 60.0  # a ride that recorded nothing for so long had paused
_STANDING_MPS = 0.3
_FASTEST_RUN_MPS = 12.5  # no runner is faster (best splits over ten metres, from memory)
_WINDOW = 30  # steps over which a wheel's count is held against the straight line
_GEOD = Geod(ellps="WGS84")


@dataclass(frozen=True, eq=False)
class Log:
    """One log; columns (n,). ``true_m`` counts from the first fix, ``true_mps`` is NaN at rest."""

    name: str
    t_s: np.ndarray
    lat: np.ndarray
    lon: np.ndarray
    accuracy_m: np.ndarray
    speed_mps: np.ndarray  # as shown
    true_m: np.ndarray
    true_mps: np.ndarray

    @property
    def truth_off(self) -> float:
        """How far the truth may be off, as a share."""
        return TRUTH_OFF.get(self.name, 0.0)

    def chord_m(self, i: int, j: int) -> float:
        """Straight from fix to fix."""
        return float(_GEOD.inv(self.lon[i], self.lat[i], self.lon[j], self.lat[j])[2])

    @cached_property
    def slept(self) -> np.ndarray:
        """Steps (n - 1,) around which the wheel counted less than the straight line: it slept."""
        first, last = np.arange(self.t_s.size - _WINDOW), np.arange(_WINDOW, self.t_s.size)
        chord_m = _GEOD.inv(
            self.lon[first], self.lat[first], self.lon[last], self.lat[last]
        )[2]  # fmt: skip
        counted_m = self.true_m[last] - self.true_m[first]
        found = np.zeros(self.t_s.size - 1, dtype=bool)
        for k in np.flatnonzero(chord_m > 1.05 * counted_m + 10).tolist():
            found[k : k + _WINDOW] = True
        return found if np.any(self.true_m) else np.zeros_like(found)

    @cached_property
    def legs_m(self) -> np.ndarray:
        """Straight from each fix to the next (n - 1,)."""
        return np.asarray(_GEOD.line_lengths(self.lon, self.lat))

    @property
    def jumped_m(self) -> float:
        """What a watch counted of jumps of its positions, out and back, that no runner makes.

        The watch of the run sums the legs between its own fixes, to a few cm each, and with them
        such jumps. (So its count is no truth of its own: what its positions' noise adds is in it.)
        """
        if self.name != "run":
            return 0.0
        counted_m = 0.0
        for first, last in stretches(self.legs_m > _FASTEST_RUN_MPS * np.diff(self.t_s)):
            counted_m += float(np.sum(self.legs_m[first : last + 1])) - self.chord_m(
                first, last + 1
            )
        return counted_m

    @property
    def unseen_m(self) -> float:
        """What the wheel slept through, by the positions."""
        return float(np.sum((self.legs_m - np.diff(self.true_m))[self.slept]))


@cache
def logs() -> dict[str, Log]:
    """Every log by its name."""
    return {path.stem: _log(path) for path in sorted(HERE.glob("*.json"))}


def _log(path: Path) -> Log:
    raw = json.loads(path.read_bytes())
    columns = {name: np.array(column, dtype=float) for name, column in raw["columns"].items()}
    n = columns["t_s"].size
    nothing = np.full(n, np.nan)
    true_m, true_mps = np.zeros(n), nothing
    if "counter_m" in raw:
        true_m = np.array(raw["counter_m"], dtype=float)
        true_mps = np.array(raw["counter_speed_mps"], dtype=float)
    elif "truth_along_m" in raw:
        true_m = np.array(raw["truth_along_m"], dtype=float)
        true_mps = np.array(raw["wheel_speed_mps"], dtype=float)
    return Log(
        name=path.stem,
        t_s=columns["t_s"],
        lat=columns["lat"],
        lon=columns["lon"],
        accuracy_m=columns.get("accuracy_m", nothing),
        speed_mps=columns.get("speed_mps", nothing),
        true_m=true_m - true_m[0],
        true_mps=true_mps,
    )


def result_of(log: Log, kept: np.ndarray, shown_mps: np.ndarray) -> dict[str, Any]:
    """The result document of a log's chosen fixes (n,), with speeds (n,) as shown; NaN: none."""

    def column(values: np.ndarray) -> list[float | None]:
        return [None if np.isnan(value) else float(value) for value in values[kept]]

    document = {
        "format": "ebbline-session",
        "version": 1,
        "session": {"id": "0b0a3d0e-3a55-4e0f-8a0e-6f3f5f3b7a11"},
        "devices": [{"id": "recorder"}],
        "breadcrumbs": [
            {
                "device": "recorder",
                "seq": list(range(int(np.count_nonzero(kept)))),
                "t_ms": [round(START_MS + 1000 * t_s) for t_s in log.t_s[kept].tolist()],
                "lat": column(log.lat),
                "lon": column(log.lon),
                "accuracy_m": column(log.accuracy_m),
                "speed_mps": column(shown_mps),
                "heading_deg": [None] * int(np.count_nonzero(kept)),
                "altitude_m": [None] * int(np.count_nonzero(kept)),
            }
        ],
    }
    check_document(document)
    return to_document(analyze(to_session(document)).result, "")


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole log. The truth lies in [low, high]; None where there is nothing to compare."""

    name: str
    truth_m: tuple[float, float]
    ours_m: dict[str, float] | None
    polyline_m: float
    speeds_m: float | None

    @property
    def holds(self) -> bool:
        """Whether our interval meets the truth's."""
        return self.ours_m is not None and _meet(self.ours_m, *self.truth_m)


def whole(log: Log, *, with_speeds: bool) -> Whole:
    """A log's whole distance, with the speeds it shows or without."""
    shown = log.speed_mps if with_speeds else np.full(log.t_s.size, np.nan)
    every = np.ones(log.t_s.size, dtype=bool)
    distance = result_of(log, every, shown)["distance"]
    counted_m = float(log.true_m[-1]) + log.unseen_m - log.jumped_m
    known = np.isfinite(shown)
    return Whole(
        name=log.name + ("" if not np.any(np.isfinite(log.speed_mps)) else
                         ", with speeds" if with_speeds else ", without"),
        truth_m=(counted_m * (1 - log.truth_off), counted_m * (1 + log.truth_off)),
        ours_m=distance["total_m"],
        polyline_m=float(_GEOD.line_length(log.lon, log.lat)),
        speeds_m=float(np.trapezoid(shown[known], log.t_s[known])) if np.any(known) else None,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Pause:
    """Where a ride recorded nothing: fixes ``before`` and the next one."""

    before: int
    lasting_s: float
    chord_m: float
    counted_m: float


def pauses(log: Log) -> list[Pause]:
    """The pauses of a ride, in order."""
    step_s = np.diff(log.t_s)
    return [
        Pause(
            before=k,
            lasting_s=float(step_s[k]),
            chord_m=log.chord_m(k, k + 1),
            counted_m=float(log.true_m[k + 1] - log.true_m[k]),
        )
        for k in np.flatnonzero(step_s >= PAUSE_S).tolist()
    ]


@dataclass(frozen=True, slots=True)
class Cut:
    """A stretch without fixes between two of them, and what was made of it.

    Stretches in which the wheel slept are left out: nobody knows how far it went there.
    ``holds``: whether ours and the truth meet; None where the result lists no such gap.
    """

    lasting_s: float
    chord_m: float
    true_m: float
    stood: bool
    ours_m: dict[str, float] | None
    holds: bool | None


def cuts(log: Log, lasting_s: float, *, with_speeds: bool) -> list[Cut]:
    """Stretches of one length cut out at many places of a ride, some in each of two passes.

    The speeds shown, where wanted, are those of the wheel.
    """
    apart_s = lasting_s + max(lasting_s, 300.0)
    found = []
    for first_s in (0.4 * apart_s, 0.9 * apart_s):
        spans = [
            (start_s, start_s + lasting_s)
            for start_s in np.arange(60.0 + first_s, log.t_s[-1] - lasting_s - 60, apart_s).tolist()
        ]
        found += cut_out(log, spans, with_speeds=with_speeds)
    return found


def around_pauses(log: Log, beside_s: float, *, with_speeds: bool) -> list[Cut]:
    """The pauses with so much riding before and after each cut out too."""
    spans = [
        (float(log.t_s[pause.before]) - beside_s, float(log.t_s[pause.before + 1]) + beside_s)
        for pause in pauses(log)
    ]
    apart = [
        span for k, span in enumerate(spans) if k == 0 or span[0] - spans[k - 1][1] > 60
    ]  # fmt: skip
    return cut_out(log, apart, with_speeds=with_speeds)


def cut_out(
    log: Log, spans: Sequence[tuple[float, float]], *, with_speeds: bool
) -> list[Cut]:  # fmt: skip
    """A ride without the fixes inside some spans (from, to, seconds), each against its truth."""
    kept = np.ones(log.t_s.size, dtype=bool)
    for start_s, end_s in spans:
        kept &= (log.t_s <= start_s) | (log.t_s >= end_s)
    shown = log.true_mps if with_speeds else np.full(log.t_s.size, np.nan)
    gaps = result_of(log, kept, shown)["distance"]["gaps"]
    found = []
    for start_s, end_s in spans:
        i = int(np.flatnonzero(log.t_s <= start_s)[-1])
        j = int(np.flatnonzero(log.t_s >= end_s)[0])
        if np.any(log.slept[i:j]):
            continue
        inside_s, inside_mps = np.diff(log.t_s[i : j + 1]), log.true_mps[i:j]
        stood = bool(np.sum(inside_s[inside_mps < _STANDING_MPS]) > 5 or inside_s.max() >= PAUSE_S)
        ours = _between(gaps, float(log.t_s[i]), float(log.t_s[j]))
        true_m = float(log.true_m[j] - log.true_m[i])
        least_m, most_m = true_m * (1 - log.truth_off), true_m * (1 + log.truth_off)
        found.append(
            Cut(
                lasting_s=float(log.t_s[j] - log.t_s[i]),
                chord_m=log.chord_m(i, j),
                true_m=true_m,
                stood=stood,
                ours_m=ours,
                holds=None if ours is None else _meet(ours, least_m, most_m),
            )
        )
    return found


def _meet(ours_m: dict[str, float], least_m: float, most_m: float) -> bool:
    return ours_m["low"] <= most_m and ours_m["high"] >= least_m


def _between(gaps: list[dict[str, Any]], start_s: float, end_s: float) -> dict[str, float] | None:
    for gap in gaps:
        ends_s = ((gap["from_ms"] - START_MS) / 1000, (gap["to_ms"] - START_MS) / 1000)
        if abs(ends_s[0] - start_s) < 0.6 and abs(ends_s[1] - end_s) < 0.6:
            bridged: dict[str, float] = gap["bridged_m"]
            return bridged
    return None


# --- tables --------------------------------------------------------------------------------------


def whole_table() -> Iterator[str]:
    """Every log as a whole."""
    yield "| log | truth, m | ours (95 %), m | holds | polyline, m | speeds, m |"
    yield "|---|---:|---:|---|---:|---:|"
    for log in logs().values():
        for with_speeds in (True, False):
            if with_speeds and not np.any(np.isfinite(log.speed_mps)):
                continue
            w = whole(log, with_speeds=with_speeds)
            low_m, high_m = w.truth_m
            truth = f"{low_m:,.1f}" if low_m == high_m else f"{low_m:,.0f} to {high_m:,.0f}"
            speeds = "—" if w.speeds_m is None else f"{w.speeds_m:,.1f}"
            yield (
                f"| {w.name} | {truth} | {_quantity(w.ours_m)} | {_yes(w.holds)} | "
                f"{w.polyline_m:,.1f} | {speeds} |"
            )


def cut_table() -> Iterator[str]:
    """Stretches cut out of the rides and the run."""
    yield (
        "| ride | cut | speeds | stretches | listed | held | median error, m | worst, m "
        "| median width, m |"
    )
    yield "|---|---|---|---:|---:|---:|---:|---:|---:|"
    for name in ("ride-steady", "ride-pauses", "run"):
        log = logs()[name]
        for with_speeds in (False, True):
            for lasting_s in CUT_S:
                found = cuts(log, lasting_s, with_speeds=with_speeds)
                for stood in (False, True):
                    part = [cut for cut in found if cut.stood == stood]
                    what = f"{lasting_s} s, {'with a stand' if stood else 'moving'}"
                    yield from _cut_row(name, what, part, with_speeds=with_speeds)
            for beside_s in (30.0, 120.0) if pauses(log) else ():
                part = around_pauses(log, beside_s, with_speeds=with_speeds)
                what = f"pause and {beside_s:.0f} s each side"
                yield from _cut_row(name, what, part, with_speeds=with_speeds)


def _cut_row(name: str, what: str, found: list[Cut], *, with_speeds: bool) -> Iterator[str]:
    if not found:
        return
    listed = [cut for cut in found if cut.ours_m is not None]
    errors_m = [abs(cut.ours_m["value"] - cut.true_m) for cut in listed if cut.ours_m]
    widths_m = [cut.ours_m["high"] - cut.ours_m["low"] for cut in listed if cut.ours_m]
    numbers = "— | — | — | —"
    if listed:
        held = sum(bool(cut.holds) for cut in listed)
        numbers = (
            f"{held} | {np.median(errors_m):,.1f} | {max(errors_m):,.0f} | "
            f"{np.median(widths_m):,.0f}"
        )
    speeds = "wheel's" if with_speeds else "none"
    yield f"| {name} | {what} | {speeds} | {len(found)} | {len(listed)} | {numbers} |"


def pause_table() -> Iterator[str]:
    """Every pause as the ride made it."""
    log = logs()["ride-pauses"]
    gaps = result_of(log, np.ones(log.t_s.size, dtype=bool), np.full(log.t_s.size, np.nan))
    yield "| pause, s | chord, m | counted, m | ours (95 %), m |"
    yield "|---:|---:|---:|---:|"
    for pause in pauses(log):
        start_s, end_s = log.t_s[pause.before], log.t_s[pause.before + 1]
        ours = _between(gaps["distance"]["gaps"], float(start_s), float(end_s))
        slept = ", slept" if pause.chord_m > pause.counted_m + 30 else ""
        yield (
            f"| {pause.lasting_s:,.0f} | {pause.chord_m:,.0f} | {pause.counted_m:,.1f}{slept} | "
            f"{_quantity(ours)} |"
        )


def _quantity(q: dict[str, float] | None) -> str:
    if q is None:
        return "not listed"
    return f"{q['value']:,.1f} ({q['low']:,.1f}–{q['high']:,.1f})"


def _yes(holds: bool | None) -> str:
    return {True: "yes", False: "NO", None: "—"}[holds]


def main() -> None:
    """Print the tables."""
    for title, table in (
        ("Whole logs", whole_table),
        ("Stretches cut out", cut_table),
        ("Pauses as they were", pause_table),
    ):
        print(f"## {title}\n")
        for row in table():
            print(row, flush=True)
        print()


if __name__ == "__main__":
    main()
