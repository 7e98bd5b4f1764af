"""The Gumbel distribution of largest values: yearly highest heads, say."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np

from riskcut.uncertainty.gumbel_score import ExtremeValue
from riskcut.uncertainty.marginal import MarginalError, Values, check, check_periods


@dataclass(frozen=True, kw_only=True)
class Gumbel(ExtremeValue):
    """Gumbel distribution of largest values (type I), given by its mean and sd.

    F(x) = exp(-exp(-(x - location)/scale)), scale = sd sqrt(6)/pi, location = mean - 0.5772 scale.
    """

    kind: ClassVar[str] = "gumbel"
    mean: float
    sd: float
    location: float = field(init=False, repr=False, compare=False)
    """The most likely value."""
    scale: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        check(self.kind, mean=self.mean, sd=self.sd)
        scale = self.sd * math.sqrt(6.0) / math.pi
        if scale == 0.0:
            raise MarginalError(f"gumbel: sd is {self.sd:g}; no spread is left to compute with")
        object.__setattr__(self, "scale", scale)
        object.__setattr__(self, "location", self.mean - float(np.euler_gamma) * scale)

    def of_maximum(self, periods: float) -> Gumbel:
        """Return the distribution of the largest of ``periods`` independent values of this one.

        F(x)^n is a Gumbel distribution with the same scale and the location raised by scale ln n
        (exact). Range of use: ``periods`` of 1 or more (a stage shorter than the period that the
        values belong to is not a share of it: high water lasts), independent of each other.

        Raises
        ------
        MarginalError
            Where ``periods`` is below 1 or not finite.
        """
        rise = self.scale * math.log(check_periods(self.kind, periods))
        return Gumbel(mean=self.mean + rise, sd=self.sd)

    def _from_score(self, g: Values) -> Values:
        g *= self.scale
        g += self.location
        return g

    def _score(self, x: Values) -> Values:
        return (np.asarray(x, dtype=np.float64) - self.location) / self.scale

    def log_density(self, x: Values) -> Values:
        """Return -y - exp(-y) - ln(scale), y = (x - location)/scale."""
        y = self._score(x)
        with np.errstate(over="ignore", under="ignore"):
            return np.asarray(-y - np.exp(-y) - math.log(self.scale))
