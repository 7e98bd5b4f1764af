"""When an answer to a published problem is right, and a table of many answers.

Right means within three of its own standard errors and within 5 %: the first alone lets a method get away with
a wide error, the second alone with an error that is claimed too small. Every seed is shown, none is chosen.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from reliability_problems import Published

from riskcut.reliability.problem import Problem

ERRORS = 3.0
SHARE = 0.05
MAY_BE_UNTRUSTED = frozenset({"RP63", "RP110", "RP111"})
"""Problems that a method may give up on, so long as it says so."""


class Answer(Protocol):
    """What a method returns."""

    @property
    def failure_probability(self) -> float: ...
    @property
    def standard_error(self) -> float: ...
    @property
    def trusted(self) -> bool: ...
    @property
    def reason(self) -> str: ...


Method = Callable[[Problem, int], Answer]
"""From a problem and a seed."""


def right(estimate: float, standard_error: float, verified: float) -> bool:
    """Whether an estimate is within three standard errors and 5 % of the verified value; NaN never is."""
    apart = abs(estimate - verified)
    return bool(apart <= ERRORS * standard_error and apart <= SHARE * verified)


@dataclass(frozen=True)
class Row:
    """One run of a method on one problem."""

    problem: str
    seed: int
    verified: float
    estimate: float
    standard_error: float
    right: bool
    trusted: bool
    reason: str

    @property
    def error(self) -> float:
        """Of the estimate, relative to the verified value."""
        return self.estimate / self.verified - 1.0

    @property
    def errors_apart(self) -> float:
        """Distance from the verified value in standard errors, with its sign; 0 where both are zero."""
        apart = self.estimate - self.verified
        if self.standard_error == 0.0:
            return math.copysign(math.inf, apart) if apart else 0.0
        return apart / self.standard_error

    @property
    def verdict(self) -> str:
        """ "right", "untrusted" (right or not, the method does not stand by it) or "WRONG"."""
        if not self.trusted:
            return "untrusted"
        return "right" if self.right else "WRONG"

    @property
    def acceptable(self) -> bool:
        """Whether the answer is right, or marked untrusted where that is allowed."""
        return self.verdict == "right" or (self.verdict == "untrusted" and self.problem in MAY_BE_UNTRUSTED)


def judge(method: Method, problems: Iterable[Published], seeds: Iterable[int]) -> list[Row]:
    """Run a method on every problem with every seed; print the table and return it."""
    seeds = tuple(seeds)
    rows = []
    for one in problems:
        for seed in seeds:
            answer = method(one.problem, seed)
            estimate, error = float(answer.failure_probability), float(answer.standard_error)
            rows.append(
                Row(
                    problem=one.id,
                    seed=seed,
                    verified=one.probability,
                    estimate=estimate,
                    standard_error=error,
                    right=right(estimate, error, one.probability),
                    trusted=bool(answer.trusted),
                    reason=answer.reason,
                )
            )
    print(table(rows))
    return rows


def table(rows: Sequence[Row]) -> str:
    """Return the rows as aligned text, and how many are right."""
    lines = [
        f"{'problem':<12}{'seed':>5}{'verified':>14}{'estimate':>14}"
        f"{'s.e. %':>10}{'error %':>11}{'in s.e.':>11}  verdict"
    ]
    for row in rows:
        claimed = 100.0 * row.standard_error / row.estimate if row.estimate else math.nan
        lines.append(
            f"{row.problem:<12}{row.seed:>5}{row.verified:>14.6e}{row.estimate:>14.6e}"
            f"{claimed:>10.3g}{100.0 * row.error:>+11.3g}{row.errors_apart:>+11.3g}  {row.verdict}"
            + (f": {row.reason}" if row.verdict != "right" else "")
        )
    verdicts = [row.verdict for row in rows]
    counts = ", ".join(f"{verdicts.count(word)} {word}" for word in ("right", "untrusted", "WRONG"))
    lines.append(f"{len(rows)} answers: {counts}")
    return "\n".join(lines)
