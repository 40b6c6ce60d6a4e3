"""What the reserve is: an amount that all cars share, a share of the pack, or some of both.

Three lines through the cars, reserve against usable energy: without slope, through the origin, and
neither. Each is weighed by Akaike's criterion for few observations, AICc = -2 ln L + 2k +
2k(k + 1)/(n - k - 1), k its coefficients and the spread between cars, n cars, L by plain likelihood
(Hurvich and Tsai, Biometrika 76 (1989), 297-307); weights are exp(-Δ/2) over their sum (Burnham and
Anderson, Model Selection and Multimodel Inference, 2002, 2.9; from memory). Figures and intervals
are by restricted likelihood.

The weights alone mislead: with five cars the criterion forbids the mixed model whatever the truth,
and a wrong model weighed 0.95 and more in up to a third of simulated campaigns of cars with a mixed
reserve. So they are shown, and the verdict goes by the mixed line's intervals, at a level chosen by
such campaigns (tests/campaign_study.py): no more than 2 of 100 were misled.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ebbline.compare.cars import Cars
from ebbline.compare.random_effects import Line, fit, spread
from ebbline.measure.quantity import scaled
from ebbline.records.arrays import FloatArray
from ebbline.records.comparison import LinePoint, Model, ModelName, Verdict, WithoutCar
from ebbline.records.result import Quantity

NAMES: tuple[ModelName, ...] = ("fixed", "proportional", "mixed")
FEWEST_CARS = 5  # below it no verdict, and a warning
HARDLY_DIFFER = 1.5  # largest pack to smallest, below which a warning says that they hardly do
_DRAWN_POINTS = 23  # a band is a hyperbola; straight between so many, nobody sees it
_STRONG = 0.98  # intervals of the verdict; by 95 % up to 6.5 of 100 campaigns were misled
_COLUMNS: dict[ModelName, tuple[int, ...]] = {
    "fixed": (0,),
    "proportional": (1,),
    "mixed": (0, 1),
}


@dataclass(frozen=True, eq=False)
class Fits:
    """The three models on some cars; a line is fitted when it is asked for.

    Columns are 1 and the pack over the mean pack, so that all coefficients are kWh.
    """

    cars: Cars

    @cached_property
    def mean_kwh(self) -> float:
        """Mean usable energy of the cars."""
        return float(np.mean(self.cars.usable_kwh))

    def _design(self, name: ModelName) -> tuple[FloatArray, FloatArray]:
        n, chosen = self.cars.n, list(_COLUMNS[name])
        both = np.column_stack([np.ones(n), self.cars.usable_kwh / self.mean_kwh])
        var = np.column_stack([np.zeros(n), self.cars.usable_var / self.mean_kwh**2])
        return both[:, chosen], var[:, chosen]

    def can_fit(self, name: ModelName) -> bool:
        """Whether there are more cars than coefficients, with packs unlike enough for these."""
        design, _ = self._design(name)
        n, p = design.shape
        return bool(n > p and np.linalg.matrix_rank(design, tol=1e-6) == p)

    def line(self, name: ModelName) -> Line:
        """The line with figures and intervals."""
        return fit(self.cars.observed, *self._design(name))

    @cached_property
    def mixed(self) -> Line | None:
        """The mixed line, where it can be fitted."""
        return self.line("mixed") if self.can_fit("mixed") else None

    @cached_property
    def aicc(self) -> dict[ModelName, float | None]:
        """Each model's criterion; None where there are too few cars for it."""
        return {name: self._aicc(name) for name in NAMES}

    def _aicc(self, name: ModelName) -> float | None:
        n, k = self.cars.n, len(_COLUMNS[name]) + 1
        if n - k - 1 < 1 or not self.can_fit(name):
            return None
        line = fit(self.cars.observed, *self._design(name), restricted=False)
        return aicc(line.log_likelihood, n, k)

    @cached_property
    def weights(self) -> dict[ModelName, float | None]:
        """Each model's weight; None for all where one has no criterion."""
        told = [value for value in self.aicc.values() if value is not None]
        if len(told) < len(NAMES):
            return dict.fromkeys(NAMES)
        return dict(zip(NAMES, akaike_weights(told), strict=True))

    def model(self, name: ModelName) -> Model:
        """One model with all that the document says of it."""
        if not self.can_fit(name):
            return Model(name, None, None, None, None, None)
        line = self.line(name)
        sd = spread(self.cars.observed, *self._design(name), math.sqrt(line.spread_var))
        fixed = line.coefficient(0) if name != "proportional" else None
        share = None if name == "fixed" else self.share(line.coefficient(-1))
        drawn = self._drawn(line, _COLUMNS[name])
        return Model(name, fixed, share, sd, self.aicc[name], self.weights[name], drawn)

    def _drawn(self, line: Line, columns: tuple[int, ...]) -> tuple[LinePoint, ...]:
        """The line from no pack at all to a tenth beyond the largest."""
        packs = np.linspace(0.0, 1.1 * float(np.max(self.cars.usable_kwh)), _DRAWN_POINTS)
        return tuple(
            LinePoint(float(pack), line.at(np.array([1.0, pack / self.mean_kwh])[list(columns)]))
            for pack in packs
        )

    def share(self, at_mean: Quantity) -> Quantity | None:
        """Per cent of the pack from kWh of the mean pack."""
        return scaled(at_mean, 100 / self.mean_kwh)

    @cached_property
    def verdict(self) -> Verdict:
        """The model that the evidence is strong for, or 'undecided'.

        A part counts as shown when its interval in the mixed model leaves out zero; one part alone
        is the answer where it is clearly more than half of the reserve at the mean pack besides,
        and the other isn't shown.
        """
        line = self.mixed
        if line is None or self.cars.n < FEWEST_CARS:
            return "undecided"
        fixed, share, more_fixed = (
            _sign(line.at(np.array(row), _STRONG)) for row in ([1.0, 0.0], [0.0, 1.0], [1.0, -1.0])
        )
        if fixed > 0 and share > 0:
            return "mixed"
        if fixed > 0 and share == 0 and more_fixed > 0:
            return "fixed"
        if share > 0 and fixed == 0 and more_fixed < 0:
            return "proportional"
        return "undecided"

    def expected(self, usable_kwh: float) -> Quantity | None:
        """What the mixed model expects of a car with this pack."""
        line = self.mixed
        return None if line is None else line.at(np.array([1.0, usable_kwh / self.mean_kwh]))

    @property
    def next_car(self) -> Quantity | None:
        """The reserve of a further car with the mean pack."""
        return None if self.mixed is None else self.mixed.next_at(np.ones(2))


def aicc(log_likelihood: float, n: int, k: int) -> float:
    """Akaike's criterion for n observations and k parameters, the variance among them."""
    return -2 * log_likelihood + 2 * k + 2 * k * (k + 1) / (n - k - 1)


def akaike_weights(criteria: Sequence[float]) -> list[float]:
    """How much of the weight each of some models has."""
    likely = np.exp(-(np.array(criteria) - min(criteria)) / 2)
    return [float(weight) for weight in likely / np.sum(likely)]


def leave_one_out(cars: Cars) -> tuple[WithoutCar, ...]:
    """What would be said without each of the cars."""
    found = []
    for k in range(cars.n):
        fits = Fits(cars.without(k))
        mixed = fits.mixed
        found.append(
            WithoutCar(
                vehicle=cars.vehicle(k),
                session_ids=tuple(member.drive.session_id for member in cars.members[k]),
                verdict=fits.verdict,
                fixed_kwh=None if mixed is None else mixed.coefficient(0),
                share_pct=None if mixed is None else fits.share(mixed.coefficient(1)),
            )
        )
    return tuple(found)


def _sign(figure: Quantity) -> int:
    """Whether a figure is clearly more (1) or less (-1) than nothing, or neither."""
    return int(figure.low > 0) - int(figure.high < 0)
