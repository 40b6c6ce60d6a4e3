"""Until where a speed that somebody asks for could be held, and from where on it could not."""

from __future__ import annotations

from ebbline.measure.full_throttle.limits import PLATEAU_S
from ebbline.measure.naming import speed
from ebbline.measure.numerics.running_mean import running_mean
from ebbline.measure.numerics.stretches import stretches
from ebbline.measure.run import Run
from ebbline.measure.time.moments import Moment
from ebbline.measure.units import factor
from ebbline.records.result import Finding, HeldAt, HeldSpeed, Limit
from ebbline.records.setup import Protocol

# A foot on the pedal and a smoothed speed waver by so much (common practice, no source).
_WAVERS_MPS = 0.3


def held_speed_of(
    run: Run, zero: Moment | None, limits: tuple[Limit, ...], protocol: Protocol
) -> tuple[HeldSpeed | None, list[Finding]]:
    """The last stretch at the protocol's speed, and the first where full throttle gave less.

    Held is what the car did for some seconds, at whatever throttle. Not held is a stretch at full
    throttle that settled below, or a top speed that the car itself showed as capped below; a slow
    stretch at part throttle says nothing.
    """
    if protocol.held_speed_kmh is None:
        return None, []
    asked_mps = protocol.held_speed_kmh * factor("km/h", "m/s")
    held = _last_held(run, asked_mps)
    failed = _first_not_held(run, limits, asked_mps)
    found = HeldSpeed(asked_mps, _at(run, zero, held), _at(run, zero, failed))
    return found, _say(asked_mps, held, failed)


def _last_held(run: Run, asked_mps: float) -> Moment | None:
    """The end of the last stretch of some seconds at or above a speed."""
    if run.track is None:
        return None
    track = run.track
    fast = running_mean(track.t_s, track.speed_mps) >= asked_mps - _WAVERS_MPS
    fast[:-1] &= ~track.gap
    lasting = [
        last for first, last in stretches(fast) if track.t_s[last] - track.t_s[first] >= PLATEAU_S
    ]
    return Moment(float(track.t_s[lasting[-1]]), 0.0) if lasting else None


def _first_not_held(run: Run, limits: tuple[Limit, ...], asked_mps: float) -> Moment | None:
    settled = [
        Moment((limit.from_ms + limit.to_ms) / 2000, 0.0)
        for limit in limits
        if limit.speed_mps is not None and limit.speed_mps.high < asked_mps
    ]
    capped = [
        timed.moment
        for timed in run.events.of("speed_capped")
        if timed.event.value is not None
        and timed.event.value * factor(timed.event.unit or "km/h", "m/s") < asked_mps - _WAVERS_MPS
    ]
    return min([*settled, *capped], key=lambda moment: moment.t_s, default=None)


def _at(run: Run, zero: Moment | None, moment: Moment | None) -> HeldAt | None:
    if moment is None:
        return None
    t_ms = round(moment.t_s * 1000)
    if zero is None:
        return HeldAt(t_ms, None, None)
    placed = run.distances([zero, moment])
    past_m = placed.between(0, 1) if placed else None
    return HeldAt(t_ms, past_m, run.energy_between(zero, [moment])[0])


def _say(asked_mps: float, held: Moment | None, failed: Moment | None) -> list[Finding]:
    asked = speed(asked_mps)
    if held is None:
        return [_note("speed_never_held", f"Nothing on record shows the car at {asked}.")]
    if failed is None:
        said = f"No floored stretch settled below {asked}, and no cap below it was noted."
        return [_note("speed_never_failed", said)]
    if held.t_s > failed.t_s:
        said = (
            f"{asked} could not be held in one floored stretch and was held again later: "
            f"a slope, the wind or a limit that was lifted again."
        )
        return [_note("speed_held_again", said)]
    return []


def _note(code: str, message: str) -> Finding:
    return Finding("note", code, message, "protocol.held_speed_kmh")
