"""What a simulator is asked, the failure of a limit state or of a union, and what it answers.

Taking the worst of several margins is a system operation; it is done here, on what the components answer, so
that every simulator works on one number a row: negative where anything that governs fails.
"""

from __future__ import annotations

import contextvars
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from riskcut.reliability.estimates import estimate
from riskcut.reliability.standard_space import StandardSpace
from riskcut.reliability.streams import generator

Floats = NDArray[np.float64]
T = TypeVar("T")

_SCALE_ROWS = 256
"""From which the spread of a margin is known well enough to set it beside another one."""
IMPOSSIBLE_SHARE = 0.01
"""Greatest share of impossible rows that an answer to be trusted may have."""


@dataclass(frozen=True)
class Answer:
    """A failure probability, its error, its cost, and whether to believe it."""

    failure_probability: float
    """0 where no failure was met: then only the upper bound says anything. NaN where no row is possible."""
    bounds: Floats
    """(2,), lower and upper at 95 %; impossible rows are safe in the lower one and failed in the upper one."""
    standard_error: float
    """Of the estimate."""
    method: str
    rows: int
    """As the ledger counts them; pilots included."""
    calls: int
    margin_evaluations: int
    trusted: bool
    reason: str
    """One sentence: how the answer was sized, or why it is not to be trusted."""
    impossible: int
    """Rows whose geometry is impossible, pilots left out."""


@dataclass(frozen=True)
class Failing:
    """The margin of a limit state or of a union: negative where anything in it fails."""

    space: StandardSpace
    parts: tuple[tuple[int, tuple[int, ...]], ...]
    """Components of the space, by place, and the limit states of each that count."""
    scales: tuple[Floats, ...] | None = None
    """Of each part, by what its margins are divided, all above zero; by nothing where there are none."""

    def __post_init__(self) -> None:
        if not any(which for _, which in self.parts):
            raise ValueError("a failure is that of at least one limit state")

    @classmethod
    def of_limit_state(cls, space: StandardSpace, component: int = 0, limit_state: int = 0) -> Failing:
        """Return the failure of one limit state, governing or not."""
        return cls(space, ((component, (limit_state,)),))

    @classmethod
    def of_union(cls, space: StandardSpace) -> Failing:
        """Return the failure of any governing limit state of any component of the space.

        Raises
        ------
        ValueError
            Where none governs.
        """
        parts = []
        for place, component in enumerate(space.components):
            if which := tuple(k for k, governs in enumerate(component.governing) if governs):
                parts.append((place, which))
        return cls(space, tuple(parts))

    def scaled(self, seed: int) -> Failing:
        """Return the same failure with each margin in its own standard deviations, by a few rows.

        Margins of several units, or of several spreads, do not say which of them is nearer to failing. What fails
        is the same.
        """
        if sum(len(which) for _, which in self.parts) == 1:
            return self
        draws = generator(seed=seed, purpose="scales of margins", index=0)
        z = self.space.scores(draws.standard_normal((self.space.dimension, _SCALE_ROWS)).T)
        scales = []
        for component, which in self.parts:
            margin = self.space.answer(z, component, which).margin
            known = np.where(np.isfinite(margin), margin, 0.0)
            spread = known.std(axis=0)
            scales.append(np.where(np.isfinite(spread) & (spread > 0.0), spread, 1.0))
        return Failing(self.space, self.parts, tuple(scales))

    def margins(self, u: Floats) -> Floats:
        """Return the least margin (n,) at independent standard normals (n, m).

        NaN where a margin is NaN and no other one fails: the row is impossible, and so not safe.
        """
        z = self.space.scores(u)
        least = np.full(len(u), np.inf)
        lost = np.zeros(len(u), dtype=np.bool_)
        for part, (component, which) in enumerate(self.parts):
            margin = self.space.answer(z, component, which).margin
            if self.scales is not None:
                margin = margin / self.scales[part]
            for place in range(len(which)):
                lost |= np.isnan(margin[:, place])
                np.fmin(least, margin[:, place], out=least)
        least[lost & ~(least < 0.0)] = np.nan
        return least

    def apart(self) -> Failing:
        """Return the same failure with a ledger of its own, for one run or one thread."""
        return Failing(self.space.apart(), self.parts, self.scales)

    def answer(
        self,
        run: Failing,
        *,
        probability: float,
        bounds: tuple[float, float],
        standard_error: float,
        method: str,
        trusted: bool,
        reason: str,
        impossible: int,
    ) -> Answer:
        """Close a run: charge its cost and return the answer, the bounds held between 0 and 1."""
        self.space.ledger.absorb(run.space.ledger)
        spent = run.space.ledger
        return Answer(
            failure_probability=float(probability),
            bounds=np.clip(np.array(bounds, dtype=np.float64), 0.0, 1.0),
            standard_error=float(standard_error),
            method=method,
            rows=spent.rows,
            calls=spent.calls,
            margin_evaluations=spent.margin_evaluations,
            trusted=trusted,
            reason=reason,
            impossible=int(impossible),
        )

    def answer_of_counts(
        self,
        run: Failing,
        *,
        failures: int,
        impossible: int,
        rows: int,
        method: str,
        trusted: bool,
        reason: str,
    ) -> Answer:
        """Close a run that came down to counting random rows, with the interval of counts."""
        counted = estimate(failures, impossible, rows)
        p = float(counted.failure_probability)
        possible = rows - impossible
        return self.answer(
            run,
            probability=p,
            bounds=(float(counted.bounds[0]), float(counted.bounds[1])),
            standard_error=np.sqrt(p * (1.0 - p) / possible) if possible else np.nan,
            method=method,
            trusted=trusted,
            reason=reason,
            impossible=impossible,
        )

    def answer_without_chance(self, method: str) -> Answer | None:
        """Return the answer where nothing is uncertain, from one row; None where something is."""
        if self.space.dimension:
            return None
        run = self.apart()
        margin = float(run.margins(np.zeros((1, 0)))[0])
        impossible = bool(np.isnan(margin))
        p = np.nan if impossible else float(margin < 0.0)
        return self.answer(
            run,
            probability=p,
            bounds=(0.0, 1.0) if impossible else (p, p),
            standard_error=np.nan if impossible else 0.0,
            method=method,
            trusted=not impossible,
            reason="Nothing is uncertain" + (", and the one row is impossible." if impossible else "."),
            impossible=int(impossible),
        )


def t_interval(values: Floats) -> tuple[float, float, float]:
    """Return the mean of independent estimates, its standard error and the half width of its t interval.

    Parameters
    ----------
    values : ndarray, (r,)
        Two or more; 95 %, r - 1 degrees of freedom.
    """
    count = len(values)
    error = float(np.std(values, ddof=1)) / float(np.sqrt(count))
    return float(np.mean(values)), error, float(stdtrit(count - 1, 0.975)) * error


def shared_out(failing: Failing, work: Callable[[Failing, int], T], count: int, workers: int = 1) -> list[T]:
    """Do pieces 0 to count - 1 of a work on some threads; the results in order, the costs charged.

    Each piece has a ledger of its own and draws from a stream of its own, so that the number of workers can
    change nothing.

    Raises
    ------
    ValueError
        Where ``workers`` is below 1.
    """
    if workers < 1:
        raise ValueError(f"workers is 1 or more, not {workers}")
    twins = [failing.apart() for _ in range(count)]
    if min(workers, count) <= 1:
        results = [work(twin, place) for place, twin in enumerate(twins)]
    else:
        with ThreadPoolExecutor(max_workers=min(workers, count)) as pool:
            flying = [
                # The caller's floating point settings, which threads do not inherit.
                pool.submit(contextvars.copy_context().run, work, twin, place)
                for place, twin in enumerate(twins)
            ]
            results = [future.result() for future in flying]
    for twin in twins:
        failing.space.ledger.absorb(twin.space.ledger)
    return results
