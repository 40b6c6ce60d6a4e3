"""A metadata track of one camera's film: what holds at each moment, for programs."""

from __future__ import annotations

import orjson

from ebbline.records.result import Quantity
from ebbline.report.film import Camera, note
from ebbline.report.moments import Moment, moments
from ebbline.report.subject import Subject
from ebbline.report.webvtt import Cue, webvtt


def data_track(subject: Subject, camera: Camera, per_second: float) -> bytes:
    """JSON for each moment, SI, with the ends of each 95 % interval."""
    step_s = 1 / per_second
    cues = (
        Cue(moment.film_s, moment.film_s + step_s, (orjson.dumps(_data(moment)).decode(),))
        for moment in moments(subject, camera, per_second)
    )
    return webvtt(subject.title, note(subject, camera), cues, plain=False)


def _data(moment: Moment) -> dict[str, object]:
    return {
        "t_ms": round(moment.at_ms),
        "past_zero_m": _plain(moment.past_zero_m, 1),
        "energy_past_zero_kwh": _plain(moment.energy_past_zero_kwh, 4),
        "speed_mps": _plain(moment.speed_mps, 2),
    }


def _plain(quantity: Quantity | None, digits: int) -> dict[str, float] | None:
    if quantity is None:
        return None
    names = ("value", "low", "high")
    return {name: round(getattr(quantity, name), digits) for name in names}
