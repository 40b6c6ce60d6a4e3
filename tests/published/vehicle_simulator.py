"""Energy between display readings, held against a vehicle simulator on published cycles.

``python -m tests.published.vehicle_simulator`` prints the table. Source: fastsim (ran), its battery
electric cars, chosen by their place in its list, on its copies of the UDDS and the HWFET (40 CFR
part 86, appendix I, and part 600, appendix I). Nothing of Ebbline is in the simulation, and nothing
of the simulation in the expected work that Ebbline starts from but the road load, where stated.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from lazily import lazily

from ebbline.exchange.result_document import to_document
from ebbline.exchange.session_file import check_document, to_session
from ebbline.measure.analysis import analyze
from ebbline.measure.geodesy import LocalPlane

fastsim = lazily("fastsim")

START_MS = 1_772_460_000_000
UDDS, HWFET = "udds.csv", "hwfet.csv"
ROUTES = ((UDDS, HWFET, UDDS), (HWFET, HWFET, UDDS), (UDDS, UDDS, UDDS))
_PARKED_S = 60
_AIR_KG_PER_M3 = 1.2
_GRAVITY_MPS2 = 9.81
_DRIVELINE_EFFICIENCY = 0.88  # a usual one; the simulator's varies with power
_PLANE = LocalPlane(12.0, -38.0)


@dataclass(frozen=True, eq=False)
class Driven:
    """One car on one route, second by second, shape (n,); energy is net at the pack's terminals."""

    t_s: np.ndarray
    speed_mps: np.ndarray
    along_m: np.ndarray
    drawn_kwh: np.ndarray
    road_load: dict[str, float]


@cache
def cars() -> tuple[Any, ...]:
    """The simulator's battery electric cars, in the order of its list."""
    every = [
        fastsim.Vehicle.from_resource(path) for path in sorted(fastsim.Vehicle.list_resources())
    ]
    return tuple(car for car in every if "BEV" in car.to_dict()["pt_type"])


@cache
def driven(car: int, route: tuple[str, ...]) -> Driven:
    """A car on one cycle after the other, each from rest to rest, parked before and after."""
    speeds, energies = [np.zeros(_PARKED_S)], [np.zeros(_PARKED_S)]
    for name in route:
        speed_mps, so_far_kwh = _cycle(car, name)
        speeds.append(speed_mps)
        energies.append(energies[-1][-1] + so_far_kwh)
    speeds.append(np.zeros(_PARKED_S))
    energies.append(np.full(_PARKED_S, energies[-1][-1]))
    speed_mps = np.concatenate(speeds)
    legs_m = (speed_mps[1:] + speed_mps[:-1]) / 2
    described = cars()[car].to_dict()
    chassis, mass_kg = described["chassis"], described["mass_kilograms"]
    return Driven(
        t_s=np.arange(float(speed_mps.size)),
        speed_mps=speed_mps,
        along_m=np.concatenate([[0.0], np.cumsum(legs_m)]),
        drawn_kwh=np.concatenate(energies),
        road_load={
            "a_n": chassis["wheel_rr_coef"] * mass_kg * _GRAVITY_MPS2,
            "b_n_per_mps": 0.0,
            "c_n_per_mps2": (
                _AIR_KG_PER_M3 / 2 * chassis["drag_coef"] * chassis["frontal_area_square_meters"]
            ),
            "driveline_efficiency": _DRIVELINE_EFFICIENCY,
        },
    )


@cache
def _cycle(car: int, name: str) -> tuple[np.ndarray, np.ndarray]:
    """Speed in m/s and energy drawn so far in kWh, second by second, shape (n,) each."""
    run = fastsim.SimDrive(cars()[car], fastsim.Cycle.from_resource(name))
    run.run()
    table = run.to_dataframe()
    so_far_j = _column(table, "veh.pt_type.BEV.res.history.energy_out_electrical_joules")
    return _column(table, "veh.history.speed_ach_meters_per_second"), so_far_j / 3.6e6


def _column(table: Any, name: str) -> np.ndarray:
    return np.asarray(table[name], dtype=float)


@dataclass(frozen=True)
class Noted:
    """How a drive was noted, and by which chance."""

    seed: int
    reading_every_s: float = 60.0
    road_load_known: bool = True
    rounding: str = "nearest"


@dataclass(frozen=True, eq=False)
class Judged:
    """Energy since zero at each event (k,), kWh: the truth, ours, its ends, and straight lines."""

    true: np.ndarray
    ours: np.ndarray
    low: np.ndarray
    high: np.ndarray
    lines: np.ndarray

    @property
    def held(self) -> np.ndarray:
        """Whether the interval holds the truth, (k,)."""
        return np.asarray((self.low <= self.true) & (self.true <= self.high))

    @property
    def off(self) -> np.ndarray:
        """Errors in standard deviations as claimed, (k,); of that size 1 on average if right."""
        return np.asarray((self.ours - self.true) / (self.high - self.low) * 2 * 1.959964)


def judge(drive: Driven, noted: Noted) -> Judged:
    """Note a drive as a passenger does, analyse it, and hold the energies against the truth."""
    rng = np.random.default_rng([noted.seed, 11])
    zero_s, end_s = float(rng.uniform(0.25, 0.5)) * drive.t_s[-1], drive.t_s[-1] - _PARKED_S + 2
    reset_s = zero_s + float(rng.uniform(3, 15))
    warned_s = np.sort(rng.uniform(zero_s + 60, end_s - 20, 20))
    happened = [("zero_soc", zero_s), ("trip_reset", reset_s), ("propulsion_off", end_s)]
    happened += [("warning", t_s) for t_s in warned_s.tolist()]
    events = [
        _record(k, t_s + _late_s(rng)) | {"kind": kind, "text": None}
        for k, (kind, t_s) in enumerate(sorted(happened, key=lambda entry: entry[1]))
    ]
    readings = list(_readings(drive, noted, reset_s, end_s, rng))
    document = {
        "format": "ebbline-session",
        "version": 1,
        "session": {"id": "0b0a3d0e-3a55-4e0f-8a0e-6f3f5f3b7a12"},
        "vehicle": {"road_load": drive.road_load if noted.road_load_known else None},
        "protocol": {"tap_delay_s": {"mean": 0.9, "sd": 0.4}, "zero_basis": "zero_soc"},
        "devices": [{"id": "phone-1"}],
        "breadcrumbs": [_breadcrumbs(drive, rng)],
        "events": events,
        "readings": [reading for _, reading in readings],
    }
    check_document(document)
    timeline = to_document(analyze(to_session(document)).result, "")["timeline"]
    warnings = [entry["energy_past_zero_kwh"] for entry in timeline if entry["kind"] == "warning"]
    points = [(reset_s, 0.0)]
    points += [(t_s, r["value"]) for t_s, r in readings if r["quantity"] == "trip_energy"]
    since_reset = np.interp(warned_s, *np.array(points).T)
    # Straight on, backwards over the seconds between zero and the reset.
    before_kwh = (reset_s - zero_s) * points[1][1] / (points[1][0] - reset_s)
    drawn = np.interp(np.array([zero_s, *warned_s]), drive.t_s, drive.drawn_kwh)
    ours, low, high = (
        np.array([entry[key] for entry in warnings]) for key in ("value", "low", "high")
    )
    return Judged(drawn[1:] - drawn[0], ours, low, high, since_reset + before_kwh)


def _late_s(rng: np.random.Generator) -> float:
    return max(0.9 + 0.4 * float(rng.standard_normal()), 0.1)


def _record(number: int, t_s: float) -> dict[str, Any]:
    return {
        "id": f"0b0a3d0e-3a55-4e0f-8a0e-{number:012d}",
        "device": "phone-1",
        "t_ms": round(START_MS + 1000 * t_s),
    }


def _readings(
    drive: Driven, noted: Noted, reset_s: float, end_s: float, rng: np.random.Generator
) -> Iterator[tuple[float, dict[str, Any]]]:
    """Trip energy again and again and after the end, the mean consumption at every third."""
    at_s = np.arange(reset_s + 40, end_s - 5, noted.reading_every_s).tolist()
    for k, t_s in enumerate([*at_s, end_s + 25]):
        since = np.interp([reset_s, t_s], drive.t_s, drive.drawn_kwh)
        metres = np.interp([reset_s, t_s], drive.t_s, drive.along_m)
        kwh, metres = float(since[1] - since[0]), float(metres[1] - metres[0])
        shown = {"trip_energy": (kwh, "kWh")}
        if k % 3 == 2:
            shown["mean_consumption"] = (1e5 * kwh / metres, "kWh/100km")
        for quantity, (value, unit) in shown.items():
            steps = value / 0.1
            whole = np.floor(steps) if noted.rounding == "down" else np.round(steps)
            reading = _record(1000 * (1 + (quantity != "trip_energy")) + k, t_s + _late_s(rng))
            yield (
                t_s,
                reading
                | {
                    "quantity": quantity,
                    "value": round(0.1 * float(whole), 6),
                    "unit": unit,
                    "resolution": 0.1,
                    "rounding": noted.rounding,
                },
            )


def _breadcrumbs(drive: Driven, rng: np.random.Generator) -> dict[str, Any]:
    """An ordinary receiver on a straight road to the east, with Doppler speeds."""
    n = drive.t_s.size
    kept, drift_m = np.exp(-1 / 60), 2.0 * rng.standard_normal((n, 2))
    for k in range(1, n):
        drift_m[k] = kept * drift_m[k - 1] + np.sqrt(1 - kept**2) * drift_m[k]
    seen_m = drift_m + 0.3 * rng.standard_normal((n, 2))
    lat, lon = _PLANE.inverse(drive.along_m + seen_m[:, 0], seen_m[:, 1])
    shown_mps = np.abs(drive.speed_mps + 0.1 * rng.standard_normal(n) * (drive.speed_mps > 0))
    return {
        "device": "phone-1",
        "seq": list(range(n)),
        "t_ms": np.round(START_MS + 1000 * drive.t_s).astype(int).tolist(),
        "lat": lat.tolist(),
        "lon": lon.tolist(),
        "accuracy_m": [5.0] * n,
        "speed_mps": shown_mps.tolist(),
        "heading_deg": [90.0 if v > 0.5 else None for v in drive.speed_mps.tolist()],
        "altitude_m": [None] * n,
    }


def table(seeds: Sequence[int]) -> Iterator[str]:
    """A row for each car and way of noting, over all routes."""
    yield (
        "| car | road load | readings every, s | events | held | median error, kWh | straight "
        "lines, kWh | median width, kWh | errors over claimed |"
    )
    yield "|---|---|---:|---:|---:|---:|---:|---:|---:|"
    for car in range(len(cars())):
        for known in (True, False):
            for every_s in (60.0, 180.0):
                found = [
                    judge(driven(car, route), Noted(seed, every_s, known))
                    for route in ROUTES
                    for seed in seeds
                ]
                yield f"| {car} | {'stated' if known else 'not'} | {every_s:.0f} | {_row(found)} |"


def _row(found: list[Judged]) -> str:
    held = np.concatenate([judged.held for judged in found])
    errors = np.concatenate([np.abs(judged.ours - judged.true) for judged in found])
    lines = np.concatenate([np.abs(judged.lines - judged.true) for judged in found])
    widths = np.concatenate([judged.high - judged.low for judged in found])
    off = np.concatenate([judged.off for judged in found])
    return (
        f"{held.size} | {100 * held.mean():.1f} % | {np.median(errors):.4f} | "
        f"{np.median(lines):.4f} | {np.median(widths):.3f} | {np.sqrt(np.mean(off**2)):.2f}"
    )


def main() -> None:
    """Print the table."""
    for row in table(range(4)):
        print(row, flush=True)


if __name__ == "__main__":
    main()
