"""Figures as people read them: in km or mi, with as many digits as the interval allows.

The rules are those of ``pwa/shared/units.js``, so that a report and the desk show the same text.
Mile: 1609.344 m (NIST SP 811, appendix B), by ``measure.units``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias

from ebbline.measure.units import factor
from ebbline.records.comparison import Figure as Told
from ebbline.records.result import Bounds, Quantity
from ebbline.vocabulary import unit_name

Choice: TypeAlias = Literal["km", "mi"]
Consumption: TypeAlias = Literal["kWh/100km", "Wh/km", "km/kWh", "Wh/mi", "mi/kWh"]
Temperature: TypeAlias = Literal["\u00b0C", "\u00b0F"]
Dimension: TypeAlias = Literal[
    "distance", "speed", "energy", "power", "duration", "consumption", "percent", "ratio"
]

THIN, NO_BREAK, MINUS, EN_DASH = "\u202f", "\u00a0", "\u2212", "\u2013"
UNKNOWN = "not known"

_PLAIN_DECIMALS: dict[Dimension, int] = {
    "distance": 2, "speed": 1, "energy": 2, "power": 1, "duration": 0,
    "consumption": 1, "percent": 1, "ratio": 4,
}  # fmt: skip
_MOST_DECIMALS = 5
_INVERSE = ("km/kWh", "mi/kWh")  # distance over energy
_LEAST_DECIMALS: dict[Dimension, int] = {"ratio": 4}  # a factor is stated alike wherever it is
_CLOCK_FROM_S = 60.0


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure as shown. ``interval`` is empty where there is none, ``unit`` where the figure
    carries its own.
    """

    value: str
    unit: str
    interval: str

    @property
    def text(self) -> str:
        """All of it: '6.42 km (6.38–6.47)'."""
        head = f"{self.value}{NO_BREAK}{self.unit}" if self.unit else self.value
        return f"{head} ({self.interval})" if self.interval else head


@dataclass(frozen=True, slots=True)
class Units:
    """km or mi, and what follows from the choice for speed; consumption and temperature follow it
    too where nothing else is asked for.
    """

    distance: Choice = "km"
    consumption: Consumption | None = None
    temperature: Temperature | None = None

    def unit(self, dimension: Dimension) -> str:
        """The unit's symbol; empty for ratios and durations."""
        miles = self.distance == "mi"
        return {
            "distance": self.distance,
            "speed": "mph" if miles else "km/h",
            "energy": "kWh",
            "power": "kW",
            "consumption": self._consumption.replace("100km", "100\u00a0km"),
            "percent": "%",
        }.get(dimension, "")

    def scale(self, dimension: Dimension) -> float:
        """What a figure in SI (Wh/km for consumption) is multiplied by; for distance over energy
        its reciprocal is.
        """
        if dimension == "distance":
            return factor("m", self.distance)
        if dimension == "speed":
            return factor("m/s", "mph" if self.distance == "mi" else "km/h")
        if dimension == "consumption":
            unit = self._consumption
            if unit in _INVERSE:
                return factor("kWh", "Wh") / factor(unit, "km/kWh")
            return 1 / factor(unit, "Wh/km")
        return 1.0

    def convert(self, dimension: Dimension, value: float) -> float:
        """A figure in SI (Wh/km for consumption) in the unit shown."""
        if dimension == "consumption" and self._consumption in _INVERSE:
            return self.scale(dimension) / value if value else math.inf
        return value * self.scale(dimension)

    def step(self, amount: float, unit: str) -> str:
        """So much more of something, given in a unit of readings and facts."""
        if unit == "degC":
            scale = 1.8 if self._temperature == "\u00b0F" else 1.0
            return f"{number(scale * amount, 0)}{NO_BREAK}{self._temperature}"
        if unit == "km":
            return self.plain("distance", 1000 * amount, 0)
        if unit == "Wh/km" and self._consumption not in _INVERSE:  # else there are no steps
            return self.plain("consumption", amount, 0)
        return f"{number(amount, 0)}{NO_BREAK}{unit_name(unit)}"

    def ambient(self, celsius: float) -> str:
        """An outside temperature, which nobody knows to a tenth of \u00b0F."""
        if self._temperature == "\u00b0C":
            return f"{celsius:g} \u00b0C"
        return f"{math.floor(celsius * 1.8 + 32.5)} \u00b0F"

    @property
    def _temperature(self) -> Temperature:
        return self.temperature or ("\u00b0F" if self.distance == "mi" else "\u00b0C")

    @property
    def _consumption(self) -> Consumption:
        return self.consumption or ("Wh/mi" if self.distance == "mi" else "Wh/km")

    def figure(self, dimension: Dimension, quantity: Quantity | None) -> Figure | None:
        """A quantity in SI as shown, None when there is none."""
        if quantity is None:
            return None
        value = self.convert(dimension, quantity.value)
        low, high = sorted(self.convert(dimension, end) for end in (quantity.low, quantity.high))
        clock = dimension == "duration" and abs(quantity.value) >= _CLOCK_FROM_S
        half_width, otherwise = (high - low) / 2, _PLAIN_DECIMALS[dimension]
        said, decimals = (
            max(digits(half_width, otherwise), _LEAST_DECIMALS.get(dimension, 0))
            for digits in (decimals_said, decimals_for)
        )
        if clock:
            decimals = 1 if 0 < high - low < 2 else 0
            shown = [_clock_like(part, decimals) for part in (value, low, high)]
        else:
            shown = [number(value, said), *(number(end, decimals) for end in (low, high))]
        unit = self.unit(dimension)
        if dimension == "duration":
            hours = abs(quantity.value) >= 3600
            unit = "s" if not clock else "h:min:s" if hours else "min:s"
        between = " to " if low < 0 or high < 0 else EN_DASH
        interval = f"{shown[1]}{between}{shown[2]}" if high > low else ""
        return Figure(shown[0], unit, interval)

    def text(self, dimension: Dimension, told: Told) -> str:
        """The same in one line, 'not known' when there is none; of a figure of which bounds alone
        are known, these.
        """
        if isinstance(told, Bounds):
            return self._bounds(dimension, told)
        figure = self.figure(dimension, told)
        return UNKNOWN if figure is None else figure.text

    def _bounds(self, dimension: Dimension, told: Bounds) -> str:
        if told.value is not None:
            return f"{self.text(dimension, Quantity(*3 * (told.value,)))}, no interval"
        decimals = 1 if dimension == "percent" else 2
        low, high = (
            None if end is None else number(self.convert(dimension, end), decimals)
            for end in (told.low, told.high)
        )
        if low is None and high is None:
            return UNKNOWN
        ends = (
            f"{low} to {high}" if low and high else f"at most {high}" if high else f"at least {low}"
        )
        unit = self.unit(dimension)
        return f"{ends}{NO_BREAK}{unit}" if unit else ends

    def plain(self, dimension: Dimension, value: float, decimals: int | None = None) -> str:
        """A figure in SI without interval, with its unit."""
        digits = _PLAIN_DECIMALS[dimension] if decimals is None else decimals
        shown = number(self.convert(dimension, value), digits)
        unit = self.unit(dimension)
        return f"{shown}{NO_BREAK}{unit}" if unit else shown


def decimals_for(half_width: float, otherwise: int) -> int:
    """Decimals that let an interval's half width show one digit, or two when the first is 1 or 2
    (JCGM 100:2008, 7.2.6: at most two digits for a stated uncertainty).
    """
    if not 0 < half_width < math.inf:
        return otherwise
    exponent = math.floor(math.log10(half_width))
    leading = math.floor(half_width / 10.0**exponent)
    return min(_MOST_DECIMALS, max(0, (1 if leading < 3 else 0) - exponent))


def decimals_said(half_width: float, otherwise: int) -> int:
    """Decimals of the figure itself: to the first digit of its doubt, as anyone would say it. The
    ends beside it keep a second digit, since rounding them would make the interval another.
    """
    if not 0 < half_width < math.inf:
        return otherwise
    return min(_MOST_DECIMALS, max(0, -math.floor(math.log10(half_width))))


def number(value: float, decimals: int) -> str:
    """With a true minus and narrow spaces, at which no line breaks, between thousands; never
    '−0'.
    """
    digits = f"{abs(value):.{decimals}f}"
    whole, point, fraction = digits.partition(".")
    grouped = f"{int(whole):,}".replace(",", THIN) if len(whole) > 4 else whole
    sign = MINUS if value < 0 and float(digits) != 0 else ""
    return sign + grouped + point + fraction


def _clock_like(seconds: float, decimals: int) -> str:
    rounded = round(abs(seconds), decimals)
    hours, rest = divmod(rounded, 3600)
    minutes, left = divmod(rest, 60)
    head = f"{hours:.0f}:{minutes:02.0f}" if hours else f"{minutes:.0f}"
    tail = f"{left:0{decimals + 3 if decimals else 2}.{decimals}f}"
    return f"{MINUS if seconds < 0 and rounded > 0 else ''}{head}:{tail}"
