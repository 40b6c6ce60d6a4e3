"""From moments of a session to seconds of a film, by the marks that both of them hold."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ebbline.errors import NotFoundError
from ebbline.measure.quantity import COVERAGE_FACTOR, sd_of
from ebbline.records.evidence import Event
from ebbline.records.result import Quantity
from ebbline.report.subject import Subject

UNNAMED = "film"  # the camera of marks that name none
NO_MARK = (
    "no film can be timed: the session has no film sync mark with its seconds of film. Tap "
    "\u2018Film sync\u2019 at a clap or flash that the camera sees, and type at which second of "
    "the film it is seen."
)


@dataclass(frozen=True, slots=True)
class Camera:
    """One camera's film against the session: ``second`` of film is ``moment + offset``.

    ``half_width_s`` is the 95 % half width of that offset, ``marks`` how many it was found from.
    ``agree`` is False when they differ by more than their uncertainties allow.
    """

    name: str
    offset_s: float
    half_width_s: float
    marks: int
    agree: bool

    def film_s(self, at_ms: float) -> float:
        """The second of film that shows a moment of the session."""
        return at_ms / 1000 + self.offset_s

    def at_ms(self, film_s: float) -> float:
        """The moment of the session that a second of film shows."""
        return (film_s - self.offset_s) * 1000

    @property
    def words(self) -> str:
        """How it was timed and how sure that is."""
        by = "1 mark" if self.marks == 1 else f"{self.marks} marks"
        doubt = "" if self.agree else "; the marks disagree, look at their seconds of film"
        return f"{self.name}: timed by {by}, \u00b1{self.half_width_s:.1f} s{doubt}"


def cameras_of(subject: Subject) -> list[Camera]:
    """Every camera with a mark that says its second of film, in order of name."""
    at = {entry.event_id: entry.at_ms for entry in subject.result.timeline}
    marks: dict[str, list[tuple[float, Quantity]]] = {}
    for event in subject.events:
        moment = at.get(event.id)
        if event.kind == "film_sync" and event.value is not None and moment is not None:
            marks.setdefault(_camera(event), []).append((event.value, moment))
    return [_timed(name, found) for name, found in sorted(marks.items())]


def camera_of(subject: Subject, name: str | None = None) -> Camera:
    """The camera asked for; without a name the only one, or the first by name.

    Raises:
        NotFoundError: no mark times any film, or none that camera's.
    """
    cameras = cameras_of(subject)
    if not cameras:
        raise NotFoundError(NO_MARK)
    if name is None:
        return cameras[0]
    for camera in cameras:
        if camera.name == name:
            return camera
    known = ", ".join(camera.name for camera in cameras)
    raise NotFoundError(f"no film sync mark names the camera {name!r}; there are: {known}")


def note(subject: Subject, camera: Camera) -> str:
    """What a film's track says of itself."""
    return f"{camera.words}. {subject.engine}, evidence {subject.input_sha256[:16]}"


def _camera(event: Event) -> str:
    return (event.text or "").strip() or UNNAMED


def _timed(name: str, marks: list[tuple[float, Quantity]]) -> Camera:
    """The mean offset, each mark weighted by its moment's uncertainty (JCGM 100:2008, H.5.2.4)."""
    offsets = [second - moment.value / 1000 for second, moment in marks]
    sds = [max(sd_of(moment) / 1000, 1e-3) for _, moment in marks]
    weights = [1 / sd**2 for sd in sds]
    total = sum(weights)
    offset = math.fsum(w * o for w, o in zip(weights, offsets, strict=True)) / total
    misfit = [
        abs(each - offset) > 2 * COVERAGE_FACTOR * sd for each, sd in zip(offsets, sds, strict=True)
    ]
    agree = not any(misfit)
    spread = 0.0 if agree else (max(offsets) - min(offsets)) / 2
    half_width = max(COVERAGE_FACTOR / math.sqrt(total), spread)
    return Camera(name, offset, half_width, len(marks), agree)
