"""One probability of failure of the results, with all that is needed to show it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from riskcut.results import wording
from riskcut.results.status import Status

Verdict = Literal["meets", "short", "undecided", "no target"]

FIRST_ORDER_SAFETY = 100.0
"""By so much a first-order probability may be too low, and the target still be met."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """The estimate of one limit state in one block, or of a system of them."""

    section: str
    """Empty for the whole."""
    stage: str
    """Empty for a section as a system, and for the whole."""
    limit_state: str
    """Empty for a system."""
    failure_probability: float
    bounds: tuple[float, float]
    reliability_index: float
    index_bounds: tuple[float, float]
    """NaN where the results do not hold them."""
    status: Status
    reason: str
    target: float = math.nan
    """Target reliability index of one limit state; NaN where there is none, and for a system."""
    factor_of_safety: float = math.nan
    """At the means; NaN for a system."""
    estimated_by: str = ""
    """How the probability was estimated, in words."""

    @property
    def probability_text(self) -> str:
        """The probability with its interval, in words."""
        return wording.probability(self.failure_probability, *self.bounds, status=self.status)

    @property
    def index_text(self) -> str:
        """The reliability index alone: the interval of the probability stands beside it."""
        return wording.reliability_index(
            self.reliability_index, *self.index_bounds, status=self.status, interval=False
        )

    @property
    def verdict(self) -> Verdict:
        """Whether the target is met: decided only where the whole interval lies on one side of it.

        A limit state that cannot fail meets any target; one whose estimate is not trusted is undecided. One of
        first order only meets a target that it would still meet with a hundred times its probability.
        """
        if math.isnan(self.target) or self.status is Status.NOT_APPLICABLE:
            return "no target"
        if self.status is Status.CANNOT_FAIL:
            return "meets"
        if self.status in (Status.COMPUTED, Status.UPPER_BOUND_ONLY):
            if self.index_bounds[0] >= self.target:
                return "meets"
            if self.index_bounds[1] < self.target:
                return "short"
        if self.status is Status.FIRST_ORDER_ONLY and self.failure_probability > 0.0:
            allowed = 0.5 * math.erfc(self.target / math.sqrt(2.0))
            if FIRST_ORDER_SAFETY * self.failure_probability <= allowed:
                return "meets"
        return "undecided"

    @property
    def severity(self) -> tuple[int, float, float]:
        """Sort key, larger where worse.

        What was seen to fail by its probability; then what was not, by the upper bound; then what cannot
        fail; last what does not apply. The factor of safety at the means settles what is still equal.
        """
        safety = -math.inf if math.isnan(self.factor_of_safety) else -self.factor_of_safety
        if self.status is Status.NOT_APPLICABLE:
            return (0, 0.0, safety)
        if self.status is Status.CANNOT_FAIL:
            return (1, 0.0, safety)
        if self.failure_probability > 0:
            return (3, self.failure_probability, safety)
        if self.bounds[0] > 0:  # every row failed
            return (3, self.bounds[0], safety)
        return (2, 0.0 if math.isnan(self.bounds[1]) else self.bounds[1], safety)


@dataclass(frozen=True, slots=True, kw_only=True)
class Influence:
    """Sobol' indices of one input, or of one group of dependent inputs, on one margin."""

    variables: tuple[str, ...]
    first: float
    first_bounds: tuple[float, float]
    total: float
    total_bounds: tuple[float, float]
