"""What the words of a CSV's header say: which column holds which quantity, and in which unit.

The words are those that loggers of vehicles and batteries use, in English and German, whole, short
or run together (common practice, no source); tests hold layouts collected from outside.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

# A quantity's words; a word that ends in one of the last is one too (German runs them together).
_WORDS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "voltage": (("voltage", "volt", "volts", "spannung", "u", "vbat", "vbatt", "vpack", "udc"),
                ("spannung", "voltage", "volts")),
    "current": (("current", "amp", "amps", "ampere", "amperes", "strom", "i", "ibat", "ibatt",
                 "ipack", "idc", "curr"), ("strom", "current")),
    "power": (("power", "leistung", "p", "pwr", "watts", "pbat", "pbatt"),
              ("leistung", "power")),
    "speed": (("speed", "velocity", "geschwindigkeit", "tempo", "spd"),
              ("geschwindigkeit", "speed")),
    "soc": (("soc", "ladestand", "ladezustand", "sococ"), ("ladestand", "ladezustand", "soc")),
    "lat": (("lat", "latitude", "breite", "breitengrad"), ("latitude",)),
    "lon": (("lon", "lng", "long", "longitude", "laenge", "l\u00e4nge", "l\u00e4ngengrad"),
            ("longitude",)),
    "altitude": (("alt", "altitude", "elevation", "ele", "h\u00f6he", "hoehe"), ("altitude",)),
}  # fmt: skip
_PHRASES = {"soc": ("state of charge", "charge level", "battery level", "charge state"),
            "voltage": ("pack v", "batt v", "battery v", "bat v", "hv v"),
            "current": ("pack a", "batt a", "battery a", "bat a", "hv a")}  # fmt: skip
_TIMES = ("time", "timestamp", "datetime", "utc", "date", "datum", "zeit", "zeitstempel", "uhrzeit",
          "epoch", "elapsed", "sekunden", "seconds", "clock", "t", "ts", "tag", "day", "zeitpunkt",
          "messzeit")  # fmt: skip
_NO_TIMES = ("since", "remaining", "charging", "runtime", "rest", "verbleibend", "zone", "until",
             "delta", "dt")  # fmt: skip

# Words that make it the whole pack's, and words that make it something else's.
_OF_THE_PACK = ("pack", "battery", "batterie", "batt", "bat", "hv", "bms", "total", "gesamt", "sum",
                "traction", "traktion", "hvb", "main", "akku", "display", "displayed", "anzeige",
                "actual", "ist", "gps", "vehicle", "fahrzeug")  # fmt: skip
_OF_ELSE = ("cell", "zelle", "zellen", "cells", "min", "max", "minimum", "maximum", "module",
            "modul", "aux", "auxiliary", "12v", "24v", "lv", "motor", "engine", "charger", "phase",
            "ladeger\u00e4t", "limit", "allowed", "available", "wheel", "rad", "fan", "l\u00fcfter",
            "wind", "delta", "diff", "accuracy", "id", "temp", "temperature", "heater", "heizung",
            "setpoint", "target", "soll", "requested", "inverter", "solar", "rpm", "capacity",
            "starter", "bordnetz", "hilfsbatterie", "steering", "factor", "bearing", "health",
            )  # fmt: skip
_UNITS: dict[str, dict[str, str]] = {
    "voltage": {"V": r"v|volts?", "mV": r"mv|millivolts?"},
    "current": {"A": r"a|amps?|amperes?", "mA": r"ma|milliamps?"},
    "power": {"kW": r"kw|kilowatts?", "W": r"w|watts?"},
    "speed": {"m/s": r"m/s|mps|m_s", "km/h": r"km/h|km_h|kmh|kph|kmph", "mph": r"mph|mi/h"},
    "soc": {"%": r"%|pct|percent|prozent"},
    "altitude": {"m": r"m|meters?|metres?", "ft": r"ft|feet"},
}
_COUNTED = {
    "ms": r"ms|msec|millis|milliseconds?|millisekunden",
    "s": r"s|sec|secs|seconds?|sekunden",
}
# A word that is a unit as well names the quantity by itself where it stands alone.
_BY_UNIT = {"voltage": ("V", "mV"), "current": ("A", "mA"), "power": ("kW", "W"),
            "speed": ("km/h", "mph")}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Named:
    """What a header says of a column: how well it fits, and its unit where one is stated."""

    score: int
    unit: str | None


def words_of(name: str) -> list[str]:
    """A header's words in small letters, those run together by capitals or lines apart."""
    apart = re.sub(r"(?<=[a-z\u00e4\u00f6\u00fc])(?=[A-Z][a-z])", " ", name)
    return re.findall(r"[^\W_]+|%", apart.lower())


def named(quantity: str, name: str, unit_below: str = "") -> Named | None:
    """How a header names a quantity; None where it doesn't. ``unit_below``: what a line of units
    says of the column.
    """
    unit = unit_of(quantity, name, unit_below)
    bare = _without_unit(name) if unit else name
    words = words_of(bare)
    whole, endings = _WORDS[quantity]
    spoken = (" ".join(words), " ".join(words_of(name)))
    hit = any(word in whole or word.endswith(endings) for word in words) or any(
        f" {each}".endswith(f" {phrase}")
        for each in spoken
        for phrase in _PHRASES.get(quantity, ())
    )
    if not hit and unit in _BY_UNIT.get(quantity, ()):
        # 'batt_V', 'Pack kW': the unit alone says what it is, of whatever pack the words name.
        hit = not words or all(word in _OF_THE_PACK for word in words)
    if not hit:
        return None
    of_pack = sum(_is(word, _OF_THE_PACK) for word in words)
    of_else = sum(_is(word, _OF_ELSE) for word in words)
    score = 2 + of_pack - 4 * of_else + (1 if unit else 0)
    return Named(score, unit) if score > 0 else None


def names_a_time(name: str) -> bool:
    """Whether a header speaks of when a row was."""
    words = words_of(name)
    if any(word in _NO_TIMES for word in words):
        return False
    return any(word in _TIMES or word.endswith(("zeit", "timestamp")) for word in words)


def counts_in(name: str, unit_below: str = "") -> str:
    """The unit that counted times are in, 's' where nothing says another."""
    for unit, pattern in _COUNTED.items():
        if re.fullmatch(pattern, unit_below.strip(" []()"), re.I) or _ends(name, pattern):
            return unit
    return "s"


def unit_of(quantity: str, name: str, unit_below: str = "") -> str | None:
    """The unit that a header, or the line of units below it, states."""
    below = unit_below.strip(" []()")
    for unit, pattern in _UNITS.get(quantity, {}).items():
        if re.fullmatch(pattern, below, re.I) or _ends(name, pattern):
            return unit
    return None


def best(
    quantity: str, names: Sequence[str], units_below: Sequence[str]
) -> tuple[int, Named] | None:
    """The column that a quantity is likeliest in, the first of equals."""
    found = [
        (column, fit)
        for column, name in enumerate(names)
        if (fit := named(quantity, name, units_below[column])) is not None
    ]
    return max(found, key=lambda one: (one[1].score, -one[0]), default=None)


def _ends(name: str, pattern: str) -> bool:
    ends = rf"(?:[\[(/ _.,-]|\bin )({pattern})[\])]?\s*$"
    return bool(re.search(ends, name, re.I) or re.fullmatch(pattern, name.strip(), re.I))


def _without_unit(name: str) -> str:
    return re.sub(r"[\[(/ _.,-][^\[(/ _.,-]+[\])]?\s*$", "", name)


def _is(word: str, among: tuple[str, ...]) -> bool:
    """Whether it is one of them, or begins a German compound with one of the longer."""
    if word in among or re.sub(r"\d+$", "", word) in among:
        return True
    return any(len(each) > 4 and word.startswith(each) for each in among)
