"""WebVTT as the W3C describes it (webvtt1, section 4): the file, its cues, and text made safe."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

_ESCAPES = {"&": "&amp;", "<": "&lt;", ">": "&gt;"}
_CONTROL = re.compile(r"[\x00-\x1f\x7f\u0085\u2028\u2029]+")


@dataclass(frozen=True, slots=True)
class Cue:
    """Text from one second of film to another; each of ``lines`` is one line."""

    from_s: float
    to_s: float
    lines: tuple[str, ...]


def webvtt(title: str, note: str, cues: Iterable[Cue], *, plain: bool = True) -> bytes:
    """The file. Cues that end before the film begins are left out, one that lies across its
    beginning starts with it.

    ``plain``: lines are words and get escaped; metadata (JSON) goes as it is.
    """
    head = f"WEBVTT {one_line(title)}\n\nNOTE\n{one_line(note).replace('-->', '->')}\n"
    shown = []
    for number, cue in enumerate((c for c in cues if c.to_s > 0), start=1):
        lines = [_escaped(one_line(line)) if plain else line for line in cue.lines]
        times = f"{timestamp(max(cue.from_s, 0.0))} --> {timestamp(cue.to_s)}"
        shown.append("\n".join([str(number), times, *(line for line in lines if line)]))
    return "\n".join([head, *(f"{cue}\n" for cue in shown)]).encode()


def timestamp(seconds: float) -> str:
    """'01:02:03.450', to the nearest millisecond."""
    total_ms = round(seconds * 1000)
    hours, rest = divmod(total_ms, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    whole, millis = divmod(rest, 1000)
    return f"{hours:02d}:{minutes:02d}:{whole:02d}.{millis:03d}"


def one_line(text: str) -> str:
    """Words without what would break a line or a cue."""
    return _CONTROL.sub(" ", text).strip()


def _escaped(text: str) -> str:
    return "".join(_ESCAPES.get(sign, sign) for sign in text)
