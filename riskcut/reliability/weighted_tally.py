"""What an importance sample says: probabilities with honest bounds, and when not to believe them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtrc, gammainccinv, gammaincinv

from riskcut.reliability.mixture import Counts, LimitState, Mixture

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

LEAST_EFFECTIVE = 30.0
"""Effective failing rows below which an estimate is not trusted: fewer than an error of 15 % takes."""
LARGEST_SHARE = 0.1
"""Share of one row in an estimate above which it is not trusted."""
FEW = 10.0
"""Effective failing rows below which only the nominal rows can say where failure is not."""
FIRST_ORDER_FACTOR = 100.0
"""Factor between an estimate and its first-order value beyond which it is not trusted."""
_UNLIKELY_SPREAD = 1e-4
"""Chance, on either side, of a spread of the blocks that calls the claimed error into question."""
_OWES = 0.1
"""Share of a system's probability from which a limit state's trouble is its own."""
_IMPOSSIBLE_SHARE = 0.1
"""Share of impossible rows in an upper bound above which the estimate is not trusted."""


def weighted_bounds(
    mean: ArrayLike,
    variance: ArrayLike,
    row: ArrayLike,
    effective: ArrayLike,
    nominal_rows: ArrayLike,
    level: float = 0.95,
) -> Floats:
    """Return an interval for a mean of many weights, most of them zero.

    Parameters
    ----------
    mean, variance : array_like
        The estimate p and its variance v.
    row : array_like
        What one more failing row would typically add to the estimate, sum W^2/(N sum W).
    effective : array_like
        Effective number of failing rows, (sum W)^2/sum W^2.
    nominal_rows : array_like
        Rows drawn from the nominal density itself, n.
    level : float
        Of confidence, between 0 and 1.

    Returns
    -------
    ndarray, (..., 2)
        Quantiles of the gamma distributions with the mean and variance of the estimate, p and v, for the lower
        bound, and of the estimate with one more row, p + r and v + r^2, for the upper [1]_ (there with the
        greatest weight; r is the mean one, [2]_). With equal weights this is the exact interval of a Poisson
        count; with many rows the normal one. Where nothing failed the bounds are 0 and the one-sided bound of the
        nominal rows, 1 - (1 - level)^(1/n). With fewer than 10 effective rows the upper bound is no lower than
        that: light rows found far from where failure is most likely say nothing of the heavy ones not found.

    References
    ----------
    .. [1] Fay, M. P. & Feuer, E. J. (1997). Confidence intervals for directly standardized rates: a method based on
       the gamma distribution. Statistics in Medicine 16, 791-801. Recalled.
    .. [2] Tiwari, R. C., Clegg, L. X. & Zou, Z. (2006). Efficient interval estimation for age-adjusted cancer
       rates. Statistical Methods in Medical Research 15, 547-569. Recalled.
    """
    if not 0.0 < level < 1.0:
        raise ValueError(f"a level of confidence lies between 0 and 1, not at {level:g}")
    p, v, r, k, n = np.broadcast_arrays(
        *(np.asarray(x, dtype=np.float64) for x in (mean, variance, row, effective, nominal_rows))
    )
    tail = 0.5 * (1.0 - level)
    none = p == 0.0
    exact = ~none & (v == 0.0)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        shape, scale = (p / np.sqrt(v)) ** 2, v / p
        lower = gammaincinv(shape, tail) * scale
        above = p + r
        spread = v + r * r
        upper = gammainccinv((above / np.sqrt(spread)) ** 2, tail) * (spread / above)
        rule = -np.expm1(np.log1p(-level) / n)
    lower = np.where(none, 0.0, np.where(exact, p, lower))
    upper = np.where(exact, p + r, upper)
    upper = np.where(none, rule, np.where(k < FEW, np.maximum(upper, rule), upper))
    return np.stack((np.minimum(lower, 1.0), np.clip(upper, 0.0, 1.0)), axis=-1)


@dataclass(frozen=True)
class WeightedEstimate:
    """Failure probabilities with their errors; arrays over the E events."""

    failure_probability: Floats
    """Given that the row is possible; 1 less the estimated complement where that was estimated."""
    bounds: Floats
    """(E, 2), lower and upper; impossible rows are safe in the lower one and failed in the upper one."""
    standard_error: Floats
    """Claimed, from the variances within the parts of the mixture."""
    batch_standard_error: Floats
    """From the spread of the blocks' own estimates; NaN for one block."""

    @property
    def coefficient_of_variation(self) -> Floats:
        """Standard error over the probability; +inf where that is zero."""
        with np.errstate(divide="ignore", invalid="ignore"):
            known = self.failure_probability > 0.0
            return np.where(known, self.standard_error / self.failure_probability, np.inf)


@dataclass(frozen=True)
class WeightedTally:
    """Sums of an importance sample; E events, first the limit states and then the systems; B blocks.

    Where an event is turned, "failing" reads "not failing" in all that follows: its complement is estimated.
    """

    seed: int
    purpose: str
    blocks: int
    rows_per_block: int
    mixture: Mixture
    limit_states: tuple[LimitState, ...]
    systems: tuple[str, ...]
    turned: Flags
    """(E,), whether the complement is estimated."""
    first_order: Floats
    """(E,), sum of the first-order probabilities of a limit state's centres, NaN where it has none."""
    nominal_rows: int
    means: Floats
    """(B, E), each block's mean weight of failing rows."""
    variances: Floats
    """(B, E), claimed of those."""
    possible_means: Floats
    """(B, E), with the impossible rows among the failing ones."""
    possible_variances: Floats
    failing: Counts
    """(E,), rows."""
    impossible: Counts
    """(E,), rows without an answer."""
    weight: Floats
    """(E,), sum of the weights of failing rows."""
    squares: Floats
    """(E,), of their squares."""
    largest: Floats
    """(E,), largest of them."""
    heaviest: Floats
    """(E, m), the place of that row; NaN where none failed."""
    all_round: frozenset[LimitState] = frozenset()
    """Limit states that fail all round the places that it was drawn about, by rows that were thrown away."""

    @property
    def rows(self) -> int:
        """Rows drawn."""
        return self.blocks * self.rows_per_block

    def place(self, event: LimitState | str) -> int:
        """Return where a limit state, or a system by its name, stands among the events."""
        if isinstance(event, str):
            return len(self.limit_states) + self.systems.index(event)
        return self.limit_states.index(event)

    @property
    def effective(self) -> Floats:
        """(E,), effective number of failing rows, (sum W)^2/sum W^2; 0 where none failed."""
        some = self.squares > 0.0
        return np.where(some, (self.weight / np.sqrt(np.where(some, self.squares, 1.0))) ** 2, 0.0)

    @property
    def largest_share(self) -> Floats:
        """(E,), of one row in the estimate; 0 where none failed."""
        return self.largest / np.where(self.weight > 0.0, self.weight, 1.0)

    @property
    def impossible_probability(self) -> Floats:
        """(E,), estimated probability that a row has no answer."""
        return np.asarray((self.possible_means - self.means).mean(axis=0))

    def estimate(self, level: float = 0.95) -> WeightedEstimate:
        """Return the failure probabilities and their errors."""
        mean, possible = self.means.mean(axis=0), self.possible_means.mean(axis=0)
        variance = self.variances.sum(axis=0) / self.blocks**2
        possible_variance = self.possible_variances.sum(axis=0) / self.blocks**2
        row = self.squares / np.where(self.weight > 0.0, self.weight, 1.0) / self.rows
        rest = (row, self.effective, self.nominal_rows, level)
        lower = weighted_bounds(mean, variance, *rest)[:, 0]
        upper = weighted_bounds(possible, possible_variance, *rest)[:, 1]
        with np.errstate(divide="ignore", invalid="ignore"):
            answered = 1.0 - np.maximum(possible - mean, 0.0)
            p = np.where(answered > 0.0, mean / answered, np.nan)
            error = np.sqrt(variance) / answered
            spread = (
                np.sqrt(((self.means - mean) ** 2).sum(axis=0) / (self.blocks - 1) / self.blocks) / answered
            )
        bounds = np.stack((lower, upper), axis=-1)
        return WeightedEstimate(
            failure_probability=np.where(self.turned, 1.0 - p, p),
            bounds=np.where(self.turned[:, np.newaxis], 1.0 - bounds[:, ::-1], bounds),
            standard_error=error,
            batch_standard_error=spread,
        )

    def doubts(self) -> tuple[tuple[str, ...], ...]:
        """Return for each event the reasons, one sentence each, not to trust its estimate."""
        estimate = self.estimate()
        return tuple(self._doubts(e, estimate) for e in range(len(self.turned)))

    def _doubts(self, e: int, estimate: WeightedEstimate) -> tuple[str, ...]:
        what = "safe" if self.turned[e] else "failing"
        found: list[str] = []
        if self.failing[e] == 0:
            found.append(f"None of the {self.rows:,} rows is {what}: only a bound is known.")
        elif self.effective[e] < LEAST_EFFECTIVE:
            found.append(
                f"The {self.failing[e]:,} {what} rows count as {self.effective[e]:.3g} of equal weight; "
                f"{LEAST_EFFECTIVE:g} are wanted."
            )
        if self.largest_share[e] > LARGEST_SHARE:
            found.append(
                f"One row alone makes {100.0 * self.largest_share[e]:.2g} % of the estimate: a region of failure "
                "that no centre is near."
            )
        if self._round_about(e, estimate):
            found.append(
                "It fails all round the places that were sampled about: more of it may lie between them."
            )
        claimed, seen = estimate.standard_error[e], estimate.batch_standard_error[e]
        if self.blocks > 1 and claimed > 0.0:
            freedom = self.blocks - 1
            above = float(chdtrc(freedom, freedom * (seen / claimed) ** 2))
            if not _UNLIKELY_SPREAD <= above <= 1.0 - _UNLIKELY_SPREAD:
                found.append(
                    f"The blocks spread by {seen / claimed:.2g} times the error that is claimed from the rows."
                )
        p, first = float(estimate.failure_probability[e]), float(self.first_order[e])
        if first > 0.0 and p > 0.0 and not 1.0 / FIRST_ORDER_FACTOR <= p / first <= FIRST_ORDER_FACTOR:
            found.append(
                f"The estimate {p:.2g} and its first-order value {first:.2g} lie more than a factor "
                f"{FIRST_ORDER_FACTOR:g} apart."
            )
        lost = float(self.impossible_probability[e])
        if self.impossible[e] and lost > _IMPOSSIBLE_SHARE * float(self.possible_means[:, e].mean()):
            found.append(
                f"Impossible rows, with a probability of {lost:.2g}, make more than "
                f"{100.0 * _IMPOSSIBLE_SHARE:g} % of the upper bound."
            )
        return tuple(found)

    def _round_about(self, e: int, estimate: WeightedEstimate) -> bool:
        """Whether a limit state fails all round, or a system owes much to one that does."""
        if e < len(self.limit_states):
            return self.limit_states[e] in self.all_round
        p = estimate.failure_probability
        return any(p[self.place(state)] > _OWES * p[e] for state in self.all_round)
