"""The laps of a course: found, checked against the survey, and made a ruler where they agree."""

from __future__ import annotations

from dataclasses import dataclass

from ebbline.measure.laps.laps import Laps, check_laps, disagreement, find_laps, ruler_of
from ebbline.measure.laps.ruler import Ruler
from ebbline.measure.track.track import Track
from ebbline.records.result import Finding, LapCheck
from ebbline.records.setup import Course


@dataclass(frozen=True, slots=True, eq=False)
class CourseLaps:
    """All that laps say; each is None where it can't be said."""

    found: Laps | None = None
    check: LapCheck | None = None
    ruler: Ruler | None = None


def compare_laps(track: Track | None, course: Course) -> tuple[CourseLaps, list[Finding]]:
    """Laps, their check and their ruler; nothing without a track."""
    if track is None:
        return CourseLaps(), []
    found, findings = find_laps(track, course)
    check = check_laps(found, course)
    return CourseLaps(found, check, ruler_of(found, course)), findings + disagreement(check)
