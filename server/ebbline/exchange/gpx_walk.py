"""A first walk through a GPX file, before any tree is built, so that every error has a place.

Python's parsers expand entities, and a file of a kilobyte can ask for gigabytes; GPX needs no
document type, so one that brings any is refused at its first line.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from xml.parsers import expat

from ebbline.errors import InputError
from ebbline.exchange.json_text import shown

NAMESPACE_1_1 = "http://www.topografix.com/GPX/1/1"  # GPX 1.1 schema, gpx.xsd
MOST_LEVELS = 40
MOST_PREFIXES = 200

_ROOT = f"{NAMESPACE_1_1} gpx"
_DECIMAL = re.compile(r"\s*[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?\s*", re.ASCII)
_TIME = re.compile(
    r"\s*\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)?\s*", re.ASCII
)  # xsd:dateTime, as GPX 1.1 has it
_READ = {"ele": (_DECIMAL, "a number"), "hdop": (_DECIMAL, "a number"),
         "time": (_TIME, "a time such as 2026-03-02T14:04:05Z")}  # fmt: skip
_POINTS = ("wpt", "trkpt", "rtept")


@dataclass(slots=True)
class Walk:
    """Where the walk is and how many elements of each kind it met."""

    counts: dict[str, int] = field(
        default_factory=lambda: dict.fromkeys(("wpt", "trk", "rte", "trkseg", "trkpt", "rtept"), 0)
    )
    path: list[str] = field(default_factory=list)
    declared: int = 0
    _at: dict[str, int] = field(default_factory=dict)
    _text: list[str] | None = None

    @property
    def place(self) -> str:
        """The track, segment and point, or the waypoint, that the walk is in."""
        parts = []
        for name, shown_as in (
            ("trk", "tracks"), ("trkseg", "segments"), ("trkpt", "points"),
            ("rte", "routes"), ("rtept", "points"), ("wpt", "waypoints"),
        ):  # fmt: skip
            if name in self.path:
                parts.append(f"{shown_as}[{self._at.get(name, 0)}]")
        return ".".join(parts) or "$"

    def start(self, name: str, attributes: dict[str, str]) -> None:
        """An element begins."""
        if not self.path and name != _ROOT:
            raise InputError("$", f"is XML of {shown(name)}, not GPX 1.1 ({NAMESPACE_1_1})")
        if len(self.path) >= MOST_LEVELS:
            raise InputError(self.place, f"is nested deeper than {MOST_LEVELS} levels")
        local = name.removeprefix(f"{NAMESPACE_1_1} ")
        self.path.append(local)
        if local in self.counts:
            self.counts[local] += 1
            self._at[local] = self._at.get(local, -1) + 1
            for inner in {"trk": ("trkseg", "trkpt"), "trkseg": ("trkpt",), "rte": ("rtept",)}.get(
                local, ()
            ):
                self._at.pop(inner, None)
        if local in _POINTS:
            self._check_angle(attributes, "lat", 90)
            self._check_angle(attributes, "lon", 180)
        if local in _READ and len(self.path) > 1 and self.path[-2] in _POINTS:
            self._text = []

    def end(self, _name: str) -> None:
        """An element ends."""
        local = self.path[-1]
        if self._text is not None and local in _READ:
            text, self._text = "".join(self._text), None
            form, need = _READ[local]
            if not form.fullmatch(text):
                raise InputError(f"{self.place}.{local}", f"is {shown(text)}; {need} is needed")
        self.path.pop()

    def declare(self, _prefix: str | None, _uri: str) -> None:
        """A namespace is declared."""
        self.declared += 1
        if self.declared > MOST_PREFIXES:
            raise InputError("$", f"declares more than {MOST_PREFIXES} namespaces")

    def text(self, data: str) -> None:
        """Text inside an element, perhaps a part of it."""
        if self._text is not None:
            self._text.append(data)

    def _check_angle(self, attributes: dict[str, str], name: str, most: int) -> None:
        text = attributes.get(name)
        where = f"{self.place}.{name}"
        if text is None:
            raise InputError(where, "is missing")
        if not _DECIMAL.fullmatch(text):
            raise InputError(where, f"is {shown(text)}; degrees are needed")
        degrees = float(text)
        if not (math.isfinite(degrees) and -most <= degrees <= most):
            raise InputError(where, f"is {shown(text)}, not within {-most} and {most}")


def walk(data: bytes) -> Walk:
    """Walk through a whole file.

    Raises:
        InputError: not well-formed, with a document type, not GPX 1.1 in UTF-8, or a point whose
            position or elevation is none; names the track, the segment and the point.
    """
    found = Walk()
    parser = expat.ParserCreate("utf-8", namespace_separator=" ")
    parser.StartDoctypeDeclHandler = _refuse_doctype
    parser.XmlDeclHandler = _check_declaration
    parser.StartNamespaceDeclHandler = found.declare
    parser.StartElementHandler = found.start
    parser.EndElementHandler = found.end
    parser.CharacterDataHandler = found.text
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        problem = (
            f"is not well-formed XML: {expat.ErrorString(error.code)} "
            f"at line {error.lineno}, column {error.offset + 1}"
        )
        raise InputError(found.place, problem) from None
    # gpxpy looks for declarations by a pattern whose time grows with the square of their number
    # where the word stands without being one.
    if data.count(b"xmlns") > found.declared:
        raise InputError("$", "has the word 'xmlns' elsewhere than in a declaration")
    return found


def _refuse_doctype(*_what: object) -> None:
    raise InputError("$", "has a document type (DOCTYPE); GPX needs none, and it is not read")


def _check_declaration(_version: str, encoding: str | None, _standalone: int) -> None:
    if encoding is not None and encoding.lower() not in ("utf-8", "utf8", "us-ascii"):
        raise InputError("$", f"says it is in {encoding}; UTF-8 is needed")
