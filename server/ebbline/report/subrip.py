"""SubRip text (.srt): a number, from and to with a comma before the milliseconds, and words."""

from __future__ import annotations

from collections.abc import Iterable

from ebbline.report.webvtt import Cue, one_line, timestamp


def subrip(cues: Iterable[Cue]) -> bytes:
    """The file, in UTF-8; what ends before the film begins is left out."""
    shown = [cue for cue in cues if cue.to_s > 0]
    return "".join(
        f"{number}\n{_time(max(cue.from_s, 0.0))} --> {_time(cue.to_s)}\n{_words(cue)}\n\n"
        for number, cue in enumerate(shown, start=1)
    ).encode()


def _time(seconds: float) -> str:
    return timestamp(seconds).replace(".", ",")


def _words(cue: Cue) -> str:
    return "\n".join(filter(None, map(one_line, cue.lines))).replace("-->", "->")
