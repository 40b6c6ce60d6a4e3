"""The truth as a document beside the session file, in the keys of the result document."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from simulator import decimals
from simulator.car import Car
from simulator.course import Course
from simulator.drive import Drive, Plateau
from simulator.receiver import Receiver
from simulator.recharge import Charge
from simulator.recorder import Notebook


@dataclass(frozen=True, slots=True, eq=False)
class World:
    """Everything that truly was."""

    course: Course
    car: Car
    drive: Drive
    start_ms: int
    charge: Charge | None = None
    trip_reset_s: float | None = None

    def ms(self, t_s: float) -> int:
        """Session time of a moment of the recording."""
        return round(self.start_ms + 1000 * t_s)

    def driven_m(self, t_s: float) -> float:
        """True distance since the start of the recording."""
        return float(self.drive.at(self.drive.s_m, t_s)) - float(self.drive.s_m[0])

    def drawn_kwh(self, t_s: float) -> float:
        """True net energy from the pack since the start of the recording."""
        return float(self.drive.at(self.drive.drawn_kwh, t_s))


def truth_document(
    world: World, notes: Notebook, receiver: Receiver, *, gate_is_known: bool = True
) -> dict[str, Any]:
    """The truth for every key of the result document that has one.

    Args:
        world: what was.
        notes: for the true moment of each event that stands.
        receiver: for the gaps it left.
        gate_is_known: whether the session says where a lap ends; if not, every gate is as good
            as another, and only the length of a lap has a truth.

    A figure that has no truth, or whose event never came, is null. ``run`` holds the truth
    second by second, for figures whose place the analysis chooses itself.
    """
    drive = world.drive
    zero_s, off_s = drive.when("zero_soc"), drive.last("propulsion_off")
    kinds = {event["id"]: event["kind"] for event in notes.events}
    document = {
        "truth_of": notes.name,
        "invented": True,
        "distance": {
            "total_m": world.driven_m(float(drive.t_s[-1])),
            "gaps": _gaps(world, receiver),
        },
        "laps": _laps(world) if gate_is_known else [],
        "lap_check": {"measured_m": world.course.length_m},
        "trip_check": {"ratio": world.car.meter_ratio},
        "zero": _zero(world, zero_s),
        "reserve": _reserve(world, zero_s, off_s),
        "timeline": [
            _entry(world, event_id, kinds[event_id], t_s, zero_s, off_s)
            for event_id, t_s in notes.true_s.items()
        ],
        "limits": [_limit(world, plateau) for plateau in drive.plateaus],
        "recharge": _recharge(world),
        "consumption": {"past_zero_wh_per_km": _past_zero_wh_per_km(world, zero_s, off_s)},
        "balance": _balance(world, zero_s, off_s),
        "charging_efficiency": None if world.charge is None else world.car.charging_efficiency,
        "run": _run(world),
    }
    rounded = _rounded(document)
    assert isinstance(rounded, dict)
    return rounded


def without_positions(truth: dict[str, Any]) -> dict[str, Any]:
    """The truth of a session that no receiver recorded: nothing says where distances count from."""
    del truth["distance"]["total_m"]
    for entry in truth["timeline"]:
        del entry["distance_m"]
    return truth


def _gaps(world: World, receiver: Receiver) -> list[dict[str, Any]]:
    return [
        {
            "from_ms": world.ms(start_s),
            "to_ms": world.ms(end_s),
            "bridged_m": world.driven_m(end_s) - world.driven_m(start_s),
        }
        for start_s, end_s in receiver.outages_s
    ]


def _laps(world: World) -> list[dict[str, Any]]:
    drive = world.drive
    places_m = world.course.gates_m(float(drive.s_m[0]), float(drive.s_m[-1]))
    crossings_s = drive.passed_s(places_m).tolist()
    return [
        {
            "number": number,
            "from_ms": world.ms(start_s),
            "to_ms": world.ms(end_s),
            "length_m": float(places_m[number] - places_m[number - 1]),
            "duration_s": end_s - start_s,
            "energy_kwh": world.drawn_kwh(end_s) - world.drawn_kwh(start_s),
        }
        for number, (start_s, end_s) in enumerate(pairwise(crossings_s), start=1)
    ]


def _zero(world: World, zero_s: float | None) -> dict[str, Any] | None:
    if zero_s is None:
        return None
    range_s = world.drive.when("zero_range")

    def after_m(t_s: float | None) -> float | None:
        return None if t_s is None else world.driven_m(t_s) - world.driven_m(zero_s)

    return {
        "basis": "zero_soc",
        "t_ms": world.ms(zero_s),
        "trip_reset_after_m": after_m(world.trip_reset_s),
        "zero_range_after_m": after_m(range_s),
    }


def _reserve(world: World, zero_s: float | None, off_s: float | None) -> dict[str, Any] | None:
    if off_s is None:
        return None
    if zero_s is None:
        return {"shut_down_before_zero": True, "ends_at": "propulsion_off"}
    energy_kwh = world.drawn_kwh(off_s) - world.drawn_kwh(zero_s)
    first_s = world.drive.when("propulsion_off")
    assert first_s is not None
    # What a restart brought on top is told apart.
    first_end = {} if first_s == off_s else {"first_end": _since(world, zero_s, first_s)}
    return {
        **_since(world, zero_s, off_s),
        **first_end,
        "duration_s": off_s - zero_s,
        "share_of_usable_pct": 100 * energy_kwh / world.car.usable_kwh,
        "shut_down_before_zero": False,
        "ends_at": "propulsion_off",
    }


def _since(world: World, zero_s: float, end_s: float) -> dict[str, float]:
    return {
        "distance_m": world.driven_m(end_s) - world.driven_m(zero_s),
        "energy_kwh": world.drawn_kwh(end_s) - world.drawn_kwh(zero_s),
    }


def _entry(
    world: World,
    event_id: str,
    kind: str,
    t_s: float,
    zero_s: float | None,
    off_s: float | None,
) -> dict[str, Any]:
    at_m, at_kwh = world.driven_m(t_s), world.drawn_kwh(t_s)
    entry: dict[str, Any] = {
        "event_id": event_id,
        "kind": kind,
        "at_ms": world.ms(t_s),
        "distance_m": at_m,
        "speed_mps": float(world.drive.at(world.drive.v_mps, t_s)),
    }
    if zero_s is not None:
        entry["past_zero_m"] = at_m - world.driven_m(zero_s)
        entry["energy_past_zero_kwh"] = at_kwh - world.drawn_kwh(zero_s)
    if off_s is not None:
        # Nothing is left once propulsion has ended, though the car still rolls and draws.
        entry["left_m"] = max(world.driven_m(off_s) - at_m, 0.0)
        entry["left_kwh"] = max(world.drawn_kwh(off_s) - at_kwh, 0.0) if t_s < off_s else 0.0
    return entry


def _limit(world: World, plateau: Plateau) -> dict[str, Any]:
    return {
        "from_ms": world.ms(plateau.on_s),
        "to_ms": world.ms(plateau.off_s),
        "speed_mps": plateau.settled_mps,
        "road_load_kw": (
            None if plateau.settled_mps is None else world.car.road_load_kw(plateau.settled_mps)
        ),
    }


def _recharge(world: World) -> dict[str, Any] | None:
    charge = world.charge
    if charge is None:
        return None
    to_soc = [
        {
            "soc_pct": happening.value,
            "energy_kwh": float(charge.at(charge.energy_in_kwh, happening.t_s)),
        }
        for happening in charge.happenings
        if happening.kind == "soc_step"
    ]
    trickle = (charge.t_s >= charge.start_s + 1) & (charge.t_s <= charge.ramp_from_s)
    full = charge.t_s >= charge.full_from_s
    return {
        "plug_in_ms": world.ms(charge.plug_in_s),
        "trickle_s": charge.ramp_from_s - charge.start_s,
        "trickle_kw": float(np.mean(charge.power_kw[trickle])),
        "trickle_kwh": float(charge.at(charge.energy_in_kwh, charge.ramp_from_s)),
        "full_power_kw": float(np.mean(charge.power_kw[full])),
        "energy_in_kwh": float(charge.energy_in_kwh[-1]),
        "energy_to_soc": to_soc,
        "below_zero_kwh": _back_in_pack_kwh(world, charge),
    }


def _past_zero_wh_per_km(world: World, zero_s: float | None, off_s: float | None) -> float | None:
    if zero_s is None or off_s is None:
        return None
    energy_kwh = world.drawn_kwh(off_s) - world.drawn_kwh(zero_s)
    return 1e6 * energy_kwh / (world.driven_m(off_s) - world.driven_m(zero_s))


def _balance(world: World, zero_s: float | None, off_s: float | None) -> dict[str, Any] | None:
    """Drawn from zero to the end of propulsion; back in the pack when 1 % was first shown.

    The second is larger by what the car drew while it stood.
    """
    if zero_s is None or off_s is None or world.charge is None:
        return None
    return {
        "driven_below_zero_kwh": world.drawn_kwh(off_s) - world.drawn_kwh(zero_s),
        "recharged_below_zero_kwh": _back_in_pack_kwh(world, world.charge),
    }


def _back_in_pack_kwh(world: World, charge: Charge) -> float:
    """Energy into the pack until 1 % was first shown."""
    back_in_kwh = float(charge.at(charge.energy_in_kwh, charge.when_shown(1)))
    return back_in_kwh * world.car.charging_efficiency


def _run(world: World) -> dict[str, Any]:
    drive = world.drive
    t_s = np.arange(0.0, float(drive.t_s[-1]) + 1)
    columns = {
        "distance_m": drive.at(drive.s_m, t_s) - float(drive.s_m[0]),
        "energy_kwh": drive.at(drive.drawn_kwh, t_s),
        "speed_mps": drive.at(drive.v_mps, t_s),
    }
    return {
        "t_ms": [world.ms(moment) for moment in t_s.tolist()],
        **{
            key: [round(value, decimals.RUN[key]) for value in values.tolist()]
            for key, values in columns.items()
        },
    }


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _rounded(part) for key, part in value.items()}
    if isinstance(value, list):
        return [_rounded(part) for part in value]
    if not isinstance(value, float):
        return value
    return round(value, decimals.alone(value))
