"""How long an analysis takes, against pyproj's geodesics on the same fixes.

    python tests/benchmarks/analysis.py [--fixes 72000] [--runs 3] [--profile]

Two hours at 10 Hz, 300 events, 60 readings, laps with a surveyed length. Prints the best of the
runs in processor time (other work on the machine doesn't count), their ratio, the peak memory of
the process, and what the mathematics alone takes: the smoother's banded system, factored and solved
once by LAPACK.
"""

from __future__ import annotations

import argparse
import cProfile
import pstats
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
from measure.drive import START_S, fixes, oval, session
from pyproj import Geod
from scipy.linalg import cho_solve_banded, cholesky_banded

from ebbline.measure.analysis import analyze
from ebbline.measure.track.kalman_smoother import STATES
from ebbline.records.evidence import Event, Reading, Session
from ebbline.records.setup import Course, Pack, Vehicle


def two_hours(count: int) -> Session:
    """A session of so many fixes at 10 Hz with events and readings spread over it."""
    drive = oval(count / 10, step_s=0.1)
    lasting_s = float(drive.t_s[-1])

    def stamp(at_s: float) -> int:
        return round((START_S + at_s + 0.9) * 1000)

    kinds = {"trip_reset": 0.01, "zero_soc": 0.5, "propulsion_off": 0.99}
    events = [Event(k, "phone", stamp(share * lasting_s), k) for k, share in kinds.items()]
    events += [
        Event(f"warning-{k}", "phone", stamp(float(at_s)), "warning")
        for k, at_s in enumerate(np.linspace(0.02, 0.98, 297) * lasting_s)
    ]
    readings = [
        Reading(
            f"trip-{k}", "phone", stamp(at_s), "trip_energy", round(0.0027 * at_s, 1), "kWh", 0.1
        )
        for k, at_s in enumerate((np.linspace(0.02, 0.98, 60) * lasting_s).tolist())
    ]
    return session(
        fixes(drive, seed=1),
        events=tuple(events),
        readings=tuple(readings),
        vehicle=Vehicle(pack=Pack(58.0)),
        course=Course(closed=True, surveyed_lap_m=2000.0, surveyed_lap_sd_m=0.5),
    )


def best_s(runs: int, work: Callable[[], object]) -> float:
    """The shortest of some runs, seconds of processor time."""
    lasting = []
    for _ in range(runs):
        started = time.process_time()
        work()
        lasting.append(time.process_time() - started)
    return min(lasting)


def solve_once(fix_count: int) -> Callable[[], object]:
    """A system of the smoother's size and bandwidth, to be factored and solved for two axes."""
    banded = np.zeros((2 * STATES, fix_count * STATES))
    banded[-1] = 4.0 * STATES
    banded[:-1] = -0.5
    right = np.ones((fix_count * STATES, 2))

    def solve() -> object:
        factor = cholesky_banded(banded, check_finite=False)
        return cho_solve_banded((factor, False), right, check_finite=False)

    return solve


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--fixes", type=int, default=72_000)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--profile", action="store_true")
    chosen = parser.parse_args()
    evidence = two_hours(chosen.fixes)
    (crumbs,) = evidence.breadcrumbs
    geod = Geod(ellps="WGS84")
    geodesics_s = best_s(chosen.runs, lambda: geod.line_lengths(crumbs.lon, crumbs.lat))
    solving_s = best_s(chosen.runs, solve_once(chosen.fixes))
    analysis_s = best_s(chosen.runs, lambda: analyze(evidence))
    peak_mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{chosen.fixes} fixes: geodesics {geodesics_s:.3f} s, analysis {analysis_s:.3f} s, "
        f"ratio {analysis_s / geodesics_s:.1f}; peak memory {peak_mib:.0f} MiB; "
        f"one banded solve {solving_s:.3f} s, {solving_s / geodesics_s:.1f} times the geodesics"
    )
    if chosen.profile:
        profile = cProfile.Profile()
        profile.runcall(analyze, evidence)
        pstats.Stats(profile).sort_stats("cumtime").print_stats(30)


if __name__ == "__main__":
    main()
