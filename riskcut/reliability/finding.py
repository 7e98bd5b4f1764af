"""A failure probability with its error, however it was found, and which of two figures to believe."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import Enum
from typing import TypeVar

import numpy as np
from scipy.special import betainc

from riskcut.reliability.estimates import estimate
from riskcut.reliability.intervals import proportion
from riskcut.reliability.mixture import LimitState
from riskcut.reliability.weighted_tally import WeightedTally

T = TypeVar("T")

PLAIN = "plain simulation"
AIMED = "importance sampling"
FIRST_ORDER = "first order"
SECOND_ORDER = "second order"
CONSTANT = "a constant margin"

SOME_FAILURES = 10
"""From which a plain simulation has an interval worth having."""
_UNLIKELY = 1e-5
"""Chance of what plain simulation saw, if the aimed sample's interval holds, below which one of them is wrong."""


class Kind(Enum):
    """What stands behind a figure."""

    SAMPLED = "sampled"
    """An estimate with an interval; where nothing (or everything) failed, one bound alone."""
    FIRST_ORDER = "first order"
    """Rarer than is sampled: of first or second order, with an upper bound from simulation alone."""
    CERTAIN = "certain"
    """Nothing uncertain enters: 0 or 1."""


@dataclass(frozen=True)
class Finding:
    """The failure probability of one limit state, or of a system."""

    probability: float
    lower: float
    upper: float
    """Of the 95 % interval."""
    standard_error: float
    method: str
    kind: Kind = Kind.SAMPLED
    doubt: str = ""
    """Why it is not to be trusted, in a sentence; empty where it is."""


def plain_finding(failures: int, impossible: int, rows: int) -> Finding:
    """Return the figure of counted rows."""
    found = estimate(failures, impossible, rows)
    p = float(found.failure_probability)
    error = float(np.sqrt(p * (1.0 - p) / max(rows - impossible, 1)))
    return Finding(p, float(found.bounds[0]), float(found.bounds[1]), error, PLAIN)


def order_finding(probability: float, plain: Finding, method: str) -> Finding:
    """Return a value of first or second order, with the upper bound of plain simulation."""
    upper = max(plain.upper, probability)
    return Finding(probability, 0.0, upper, 0.0, method, Kind.FIRST_ORDER)


def aimed_finding(tally: WeightedTally, event: LimitState | str) -> Finding:
    """Return the figure of a limit state, or of a system, of an importance sample."""
    e = tally.place(event)
    found = tally.estimate()
    return Finding(
        probability=float(found.failure_probability[e]),
        lower=float(found.bounds[e, 0]),
        upper=float(found.bounds[e, 1]),
        standard_error=float(found.standard_error[e]),
        method=AIMED,
        doubt=" ".join(tally.doubts()[e]),
    )


def shared_out(whole: Finding, parts: Mapping[T, Finding]) -> dict[T, Finding]:
    """Return the parts of a figure, brought to add up to it.

    They do already but for rows without an answer, and for a whole of which the complement was estimated.
    """
    total = sum(part.probability for part in parts.values())
    if total <= 0.0:
        return dict(parts)
    factor = whole.probability / total
    return {
        name: replace(
            part,
            probability=factor * part.probability,
            lower=factor * part.lower,
            upper=min(max(factor, 1.0) * part.upper, 1.0),
            standard_error=factor * part.standard_error,
            doubt=" ".join(dict.fromkeys(doubt for doubt in (whole.doubt, part.doubt) if doubt)),
        )
        for name, part in parts.items()
    }


def better(aimed: Finding, plain: Finding, failures: int, rows: int, impossible: int = 0) -> Finding:
    """Return the aimed figure, or the plain one where the aimed one is in doubt and enough rows failed.

    An aimed sample hardly meets impossible rows that lie elsewhere: where the plain simulation met some, they are
    counted as failing in the upper bound, with their own.
    """
    doubt = aimed.doubt or _disagreement(aimed, failures, rows)
    if doubt and (min(failures, rows - failures) >= SOME_FAILURES or aimed.probability in (0.0, 1.0)):
        return plain
    lower, upper = aimed.lower, aimed.upper
    if doubt:
        lower, upper = min(lower, plain.lower), max(upper, plain.upper)
    if impossible:
        upper = min(upper + float(proportion(impossible, rows)[1]), 1.0)
    return replace(aimed, lower=lower, upper=upper, doubt=doubt)


def _disagreement(aimed: Finding, failures: int, rows: int) -> str:
    """Say where the count of a plain simulation is next to impossible under every value of the interval."""
    # Binomial tails as incomplete beta functions: so many failures or more, and so many or fewer.
    too_many = float(betainc(failures, rows - failures + 1, aimed.upper)) if failures else 1.0
    too_few = 1.0 - float(betainc(failures + 1, rows - failures, aimed.lower)) if failures < rows else 1.0
    if min(too_many, too_few) >= _UNLIKELY:
        return ""
    return (
        f"{failures:,} of {rows:,} rows of the plain simulation failed; the aimed sample says "
        f"{aimed.probability:.2g}."
    )
