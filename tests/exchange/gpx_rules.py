"""The rules of the GPX 1.1 schema, written by hand from the schema as published.

Source: http://www.topografix.com/GPX/1/1/gpx.xsd. No package under a permissive licence carries
that file and its own licence is not stated, so it is neither copied nor fetched; the rules are
restated as tables: which elements an element may hold and in which order, how often, their
attributes, and how values are written (XML Schema part 2: decimal has no exponent).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import datetime
from decimal import Decimal
from itertools import groupby
from xml.etree.ElementTree import Element, fromstring

SPACE = "http://www.topografix.com/GPX/1/1"
SCHEMA_INSTANCE = "{http://www.w3.org/2001/XMLSchema-instance}"
MANY = frozenset({"wpt", "rte", "trk", "link", "rtept", "trkseg", "trkpt"})

POINT = (
    "ele time magvar geoidheight name cmt desc src link sym type fix sat hdop vdop pdop "
    "ageofdgpsdata dgpsid extensions"
)
HOLDS = {
    "gpx": "metadata wpt rte trk extensions",
    "metadata": "name desc author copyright link time keywords bounds extensions",
    "wpt": POINT,
    "rtept": POINT,
    "trkpt": POINT,
    "rte": "name cmt desc src link number type extensions rtept",
    "trk": "name cmt desc src link number type extensions trkseg",
    "trkseg": "trkpt extensions",
    "link": "text type",
    "author": "name email link",
    "email": "",
    "copyright": "year license",
    "bounds": "",
}


def broken_rules(text: str) -> list[str]:
    """Every rule that a document breaks, with where; empty when it is valid."""
    root = fromstring(text)
    if root.tag != f"{{{SPACE}}}gpx":
        return [f"the root is {root.tag}"]
    return list(_element(root, "gpx", "/gpx"))


def _element(element: Element, name: str, where: str) -> Iterator[str]:
    yield from _attributes(element, name, where)
    if name == "extensions":
        for child in element:
            if child.tag.startswith(f"{{{SPACE}}}") or not child.tag.startswith("{"):
                yield f"{where}: {child.tag} is not of another namespace"
        return
    if name not in HOLDS:
        yield from _value(element, name, where)
        return
    if (element.text or "").strip() or any((child.tail or "").strip() for child in element):
        yield f"{where}: has text between its elements"
    order = HOLDS[name].split()
    names = [child.tag.removeprefix(f"{{{SPACE}}}") for child in element]
    unknown = [child for child in names if child not in order]
    if unknown:
        yield f"{where}: {unknown[0]} does not belong there"
        return
    runs = [(child, len(list(run))) for child, run in groupby(names)]
    if [child for child, _ in runs] != sorted({child for child in names}, key=order.index):
        yield f"{where}: its elements are out of order: {names}"
    for child, count in runs:
        if count > 1 and (child not in MANY or (name, child) == ("author", "link")):
            yield f"{where}: has {count} {child}"
    for number, (child, part) in enumerate(zip(names, element, strict=True), start=1):
        yield from _element(part, child, f"{where}/{child}[{number}]")


def _attributes(element: Element, name: str, where: str) -> Iterator[str]:
    rules: dict[str, Callable[[str], bool]] = {
        "gpx": {"version": "1.1".__eq__, "creator": lambda _: True},
        **{key: {"lat": _latitude, "lon": _longitude} for key in ("wpt", "rtept", "trkpt")},
        "bounds": {"minlat": _latitude, "minlon": _longitude, "maxlat": _latitude,
                   "maxlon": _longitude},
        "link": {"href": lambda _: True},
        "email": {"id": lambda _: True, "domain": lambda _: True},
        "copyright": {"author": lambda _: True},
    }.get(name, {})  # type: ignore[assignment]  # fmt: skip
    held = {key: value for key, value in element.attrib.items() if SCHEMA_INSTANCE not in key}
    if set(held) != set(rules):
        yield f"{where}: has attributes {sorted(held)}, not {sorted(rules)}"
    for key in set(held) & set(rules):
        if not rules[key](held[key]):
            yield f"{where}: {key} is {held[key]!r}"


def _value(element: Element, name: str, where: str) -> Iterator[str]:
    """An element that holds text alone."""
    if len(element):
        yield f"{where}: holds elements"
    text = element.text or ""
    sound = {
        **dict.fromkeys(("ele", "geoidheight", "hdop", "vdop", "pdop", "ageofdgpsdata"), _decimal),
        "magvar": lambda value: _decimal(value) and 0 <= Decimal(value) < 360,
        "time": _moment,
        "fix": {"none", "2d", "3d", "dgps", "pps"}.__contains__,
        "sat": _whole,
        "number": _whole,
        "dgpsid": lambda value: _whole(value) and int(value) <= 1023,
        "year": lambda value: re.fullmatch(r"-?\d{4,}(Z|[+-]\d\d:\d\d)?", value) is not None,
    }.get(name, lambda _: True)
    if not sound(text.strip()):
        yield f"{where}: is {text!r}"


def _decimal(text: str) -> bool:
    return re.fullmatch(r"[+-]?(\d+(\.\d*)?|\.\d+)", text, re.ASCII) is not None


def _whole(text: str) -> bool:
    return re.fullmatch(r"\+?\d+|-0+", text, re.ASCII) is not None


def _latitude(text: str) -> bool:
    return _decimal(text) and -90 <= Decimal(text) <= 90


def _longitude(text: str) -> bool:
    return _decimal(text) and -180 <= Decimal(text) < 180


def _moment(text: str) -> bool:
    written = r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)?"
    if re.fullmatch(written, text, re.ASCII) is None:
        return False
    try:
        datetime.fromisoformat(re.sub(r"(\.\d{6})\d+", r"\1", text))
    except ValueError:
        return False
    return True
