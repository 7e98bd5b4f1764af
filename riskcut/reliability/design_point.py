"""A design point, and what a search for design points answers."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Limits:
    """How far, how well and how long to look; distances in standard deviations of the normal scores."""

    distance: float = 1e-5
    """Greatest distance |g|/|grad g| of a design point from the limit surface, times max(1, beta)."""
    angle: float = 1e-3
    """Greatest sine of the angle between a design point and the gradient. The error of beta goes with its
    square."""
    radius: float = 12.0
    """Nothing is looked for farther from the origin: Phi(-12) is 2e-33."""
    step: float = 5.0
    """Longest step of one iteration."""
    iterations: int = 40
    """Of the search from one start."""
    difference: float = 1e-5
    """Step of the finite differences."""
    central: bool = False
    """Whether differences are central: two rows a variable for one."""
    band: float = 1e-3
    """A further point is kept where its Phi(-|beta|) is at least this share of the first one's."""
    apart: float = 0.95
    """Points are two where the cosine of the angle between them is below this."""
    points: int = 8
    """Most points that are kept."""
    attempts: int = 4
    """Most starts that are tried in one round of the search for further points; 0 for none."""

    def reach(self, beta: float) -> float:
        """Return the distance at which the density has fallen to the band's share of that at ``beta``."""
        return min(math.sqrt(beta * beta - 2.0 * math.log(self.band)), self.radius)


@dataclass(frozen=True)
class DesignPoint:
    """A place on a limit surface that is nearer to the origin than those about it."""

    u: Floats
    """(m,), independent standard normals."""
    beta: float
    """First-order reliability index: distance of the linearised surface, negative where the origin fails."""
    alpha: Floats
    """(m,), unit vector into the failure set, -grad g/|grad g|; u is beta alpha but for the residuals. At a kink,
    where no gradient points to the origin, u/beta."""
    gradient_norm: float
    """Of the margin with regard to u, in the margin's unit."""
    kind: str
    """"point": the gradient points to the origin; "local": nearest in a kink of the surface, or of a search that
    stuck there, so that its first-order probability is a rough one."""
    distance: float
    """Residual |g|/|grad g|."""
    sine: float
    """Residual: of the angle between u and the gradient (where |u| < 1, times |u|)."""

    @property
    def importance(self) -> Floats:
        """(m,), alpha^2: share of each independent score in the variance of the linearised margin."""
        return self.alpha**2

    @property
    def first_order_probability(self) -> float:
        """Phi(-beta)."""
        return float(ndtr(-self.beta))


@dataclass(frozen=True)
class Search:
    """The design points of one limit state, and what they cost."""

    points: tuple[DesignPoint, ...]
    """The nearest first; empty where none was found."""
    converged: bool
    """Whether the nearest point meets the limits."""
    reason: str
    """What was found, or why nothing was."""
    origin: float
    """Margin at the origin, where all scores are at their medians; NaN where that is impossible."""
    rows: int
    calls: int
    margin_evaluations: int
    impossible: int
    """Rows whose margin is no finite number."""

    def having_spent(self, rows: int, calls: int, impossible: int) -> Search:
        """Return the same, with what else was spent on it."""
        return replace(
            self,
            rows=self.rows + rows,
            calls=self.calls + calls,
            margin_evaluations=self.margin_evaluations + rows,
            impossible=self.impossible + impossible,
        )
