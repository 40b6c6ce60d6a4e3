"""Makes the pictures of the method in DEVELOPERS.md: ``python tests/measure/make_pictures.py``.

Writes .pictures/method-*.svg from simulated evidence with known truth.
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

import matplotlib as mpl  # noqa: E402

mpl.use("svg")
import matplotlib.pyplot as plt  # noqa: E402
import numpy as np  # noqa: E402
from matplotlib.axes import Axes  # noqa: E402
from measure.drive import PLANE, START_S, fixes, oval  # noqa: E402

from ebbline.measure.energy.bounds import EnergyBound, EnergyEvidence  # noqa: E402
from ebbline.measure.energy.curve import fit_energy  # noqa: E402
from ebbline.measure.energy.expected import Supply, expected_energy  # noqa: E402
from ebbline.measure.geodesy import polyline_m  # noqa: E402
from ebbline.measure.motion.motion import Motion  # noqa: E402
from ebbline.measure.time.moments import Moment  # noqa: E402
from ebbline.measure.track.covariance import along_covariance  # noqa: E402
from ebbline.measure.track.distances import gnss_distances  # noqa: E402
from ebbline.measure.track.fixes import Fixes  # noqa: E402
from ebbline.measure.track.track import Track, build  # noqa: E402

PICTURES = ROOT / ".pictures"
INK, TIDE, AMBER, SOFT = "#14212b", "#0b6a66", "#8a4b00", "#9a9484"


def main() -> None:
    """Draw all pictures; the same every time."""
    PICTURES.mkdir(exist_ok=True)
    mpl.rcParams.update(
        {
            "svg.hashsalt": "ebbline",
            "font.size": 10,
            "axes.spines.top": False,
            "axes.spines.right": False,
            "axes.edgecolor": INK,
            "figure.facecolor": "#fffdf8",
            "axes.facecolor": "#fffdf8",
        }
    )
    distance()
    gap()
    energy()


def distance() -> None:
    """Fixes and smoothed track in a bend; error of both distances against the interval."""
    drive = oval(600)
    seen = fixes(drive, seed=8)
    track = build(seen)
    figure, (left, right) = plt.subplots(1, 2, figsize=(10, 3.8))
    part = slice(36, 62)
    position = np.column_stack(PLANE.forward(seen.lat, seen.lon))
    left.plot(*drive.position_m[part].T, color=SOFT, lw=5, alpha=0.5, label="truth")
    left.plot(*position[part].T, ".-", color=AMBER, lw=0.8, label="fixes, joined")
    own = np.column_stack(PLANE.forward(*track.plane.inverse(*track.position_m[part].T)))
    left.plot(*own.T, color=TIDE, lw=2, label="smoothed")
    left.set_aspect("equal")
    left.set_xlabel("east, m")
    left.set_ylabel("north, m")
    left.legend(frameon=False)
    t_s = drive.t_s
    raw = np.array([polyline_m(seen.lat[: k + 1], seen.lon[: k + 1]) for k in range(t_s.size)])
    sd = np.sqrt(np.diag(along_covariance(track, track.t_s)))
    _error(right, t_s, raw - drive.along_m, track.along_m - drive.along_m, 1.96 * sd)
    _save(figure, "method-distance")


def _error(axes: Axes, t_s, raw_m, ours_m, half_m) -> None:
    axes.fill_between(t_s, -half_m, half_m, color=TIDE, alpha=0.15, lw=0, label="95 % interval")
    axes.plot(t_s, raw_m, color=AMBER, label="fixes, joined")
    axes.plot(t_s, ours_m, color=TIDE, lw=2, label="smoothed speed, integrated")
    axes.axhline(0, color=INK, lw=0.6)
    axes.set_xlabel("time, s")
    axes.set_ylabel("error of the distance, m")
    axes.legend(frameon=False)


def gap() -> None:
    """A gap across a bend: straight, by the motion model, and bridged, against the truth."""
    drive = oval(600)
    lengths = np.arange(6.0, 46.0, 4.0)
    chord, ours, reach = [], [], []
    for lasting_s in lengths:
        seen = fixes(drive, seed=5)
        keep = (seen.t_s < START_S + 260) | (seen.t_s > START_S + 260 + lasting_s)
        columns = [getattr(seen, name)[keep] for name in Fixes.__slots__ if name != "device"]
        track = build(Fixes(seen.device, *columns))
        k = int(np.flatnonzero(track.gap)[0])
        true_m = 18.0 * (track.t_s[k + 1] - track.t_s[k])
        chord.append(np.hypot(*(track.position_m[k + 1] - track.position_m[k])) - true_m)
        found = gnss_distances(track, track.t_s[k : k + 2]).interval(0, 1)
        assert found is not None
        ours.append(found.value - true_m)
        reach.append((found.value - found.low, found.high - found.value))
    figure, axes = plt.subplots(figsize=(6, 3.4))
    axes.plot(lengths, chord, ".-", color=AMBER, label="straight across")
    axes.errorbar(
        lengths,
        ours,
        np.transpose(reach),
        fmt="o",
        color=TIDE,
        capsize=3,
        label="bridged, with its interval",
    )
    axes.axhline(0, color=INK, lw=0.6)
    axes.set_xlabel("length of the gap, s")
    axes.set_ylabel("error of the bridged distance, m")
    axes.legend(frameon=False)
    _save(figure, "method-gap")


def energy() -> None:
    """A curve through the intervals of a display that shows 0.1 kWh."""
    track = build(fixes(oval(600), seed=3))
    motion_kwh = 1600 * track.speed_mps**2 / 2 / 3.6e6
    true_kwh = 0.15 * track.along_m / 1000 + 0.02 * np.sin(track.along_m / 700) + motion_kwh
    at = np.array([60.0, 130, 150, 320, 420, 480])
    bounds = [_bound(track, true_kwh, float(moment)) for moment in at]
    motion = Motion.by_positions(track)
    expected = expected_energy(motion, None, Supply())
    curve = fit_energy(motion, EnergyEvidence(tuple(bounds)), expected)
    assert curve is not None
    start = Moment(float(track.t_s[0]), 0.0)
    mean, sd = curve.since(start, track.t_s)
    figure, axes = plt.subplots(figsize=(8, 3.6))
    t_s = track.t_s - START_S
    axes.fill_between(t_s, mean - 1.96 * sd, mean + 1.96 * sd, color=TIDE, alpha=0.2, lw=0)
    axes.plot(t_s, mean, color=TIDE, lw=2, label="estimate with its 95 % interval")
    axes.plot(t_s, true_kwh - true_kwh[0], color=INK, lw=1, ls="--", label="truth")
    low = np.array([bound.low_kwh for bound in bounds])
    axes.errorbar(
        at,
        low + 0.05,
        0.05,
        fmt="none",
        color=AMBER,
        capsize=4,
        lw=2,
        label="what the display allows",
    )
    axes.set_xlabel("time, s")
    axes.set_ylabel("energy since the reset, kWh")
    axes.legend(frameon=False)
    _save(figure, "method-energy")


def _bound(track: Track, true_kwh: np.ndarray, at_s: float) -> EnergyBound:
    shown = round(float(np.interp(START_S + at_s, track.t_s, true_kwh - true_kwh[0])), 1)
    return EnergyBound(
        f"r{at_s:.0f}",
        "trip_energy",
        Moment(START_S + at_s, 0.3),
        float(track.t_s[0]),
        0,
        max(shown - 0.05, 0.0),
        shown + 0.05,
        0.0,
    )


def _save(figure: plt.Figure, name: str) -> None:
    figure.tight_layout()
    figure.savefig(PICTURES / f"{name}.svg", metadata={"Date": None})
    plt.close(figure)


if __name__ == "__main__":
    main()
