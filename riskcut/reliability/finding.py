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
_ERRORS_APART = 4.0
"""Standard errors by which an aimed sample has to be above another method's figure to call that into question."""
_SAMPLES_APART = 5.0
"""Standard errors by which two samples of one part may differ."""
_INSTEAD = "Stands in for an aimed sample that was in doubt: {}"


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
    note: str = ""
    """What else is to be told of it: why its method was picked, what was in doubt that it stands in for."""


def plain_finding(failures: int, impossible: int, rows: int) -> Finding:
    """Return the figure of counted rows."""
    found = estimate(failures, impossible, rows)
    p = float(found.failure_probability)
    error = float(np.sqrt(p * (1.0 - p) / max(rows - impossible, 1)))
    return Finding(p, float(found.bounds[0]), float(found.bounds[1]), error, PLAIN)


def certain(fails: bool) -> Finding:
    """Return the figure of what nothing uncertain enters."""
    p = float(fails)
    return Finding(p, p, p, 0.0, CONSTANT, Kind.CERTAIN)


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


def completed(part: Finding, beyond: Finding, whole: Finding) -> Finding:
    """Return the figure of a whole by a part of it that is known by itself, and what its sample has beyond that part.

    Parameters
    ----------
    part : Finding
        Of another, independent sample.
    beyond, whole : Finding
        Of one sample: the failure of the whole where the part stands, and of the whole.

    Returns
    -------
    Finding
        P(part) + P(whole and not part): without bias, wherever the part was picked without a look at its figure, and
        never below the part. Its interval has the shape of the whole's. Where the two samples do not agree on the
        part, the whole's own with a doubt.
    """
    inside = whole.probability - beyond.probability
    apart = abs(part.probability - inside)
    if apart > _SAMPLES_APART * float(np.hypot(part.standard_error, whole.standard_error)):
        doubt = f"Of a part of it one sample says {part.probability:.2g}, another {inside:.2g}."
        return replace(whole, doubt=f"{whole.doubt} {doubt}".strip())
    p = part.probability + beyond.probability
    error = float(np.hypot(part.standard_error, beyond.standard_error))
    scale = error / whole.standard_error if whole.standard_error > 0.0 else 1.0
    return replace(
        whole,
        probability=p,
        lower=max(p - scale * (whole.probability - whole.lower), 0.0),
        upper=min(p + scale * (whole.upper - whole.probability), 1.0),
        standard_error=error,
    )


def held(union: Finding, part: Finding, seen: float, share: float) -> Finding:
    """Return a union's figure, in doubt where its sample lacks much of a limit state in it.

    Parameters
    ----------
    union : Finding
    part : Finding
        Of the limit state, by another method. The union is as likely as that at least.
    seen : float
        What the union's sample has of the limit state.
    share : float
        Of the union, up to which it may lack some.
    """
    lacking = part.probability - seen
    if part.doubt or lacking <= max(2.0 * part.standard_error, share * union.probability):
        return union
    doubt = f"Its sample has {seen:.2g} of a limit state that fails with {part.probability:.2g}."
    return replace(
        union,
        probability=max(union.probability, part.probability),
        upper=min(union.upper + part.upper, 1.0),
        standard_error=float(np.hypot(union.standard_error, part.standard_error)),
        doubt=f"{union.doubt} {doubt}".strip(),
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
    doubt = aimed.doubt or _disagreement(aimed, failures, rows, "the aimed sample")
    if doubt and min(failures, rows - failures) >= SOME_FAILURES:
        return replace(plain, note=_INSTEAD.format(doubt))
    if doubt and aimed.probability in (0.0, 1.0):
        return plain
    lower, upper = aimed.lower, aimed.upper
    if doubt:
        lower, upper = min(lower, plain.lower), max(upper, plain.upper)
    if impossible:
        upper = min(upper + float(proportion(impossible, rows)[1]), 1.0)
    return replace(aimed, lower=lower, upper=upper, doubt=doubt)


def settled(
    usual: Finding, other: Finding, failures: int, rows: int, aimed: Finding | None = None
) -> Finding:
    """Return the figure of another method where it is to be believed, else the usual one with what was tried.

    Parameters
    ----------
    usual : Finding
        In doubt, or too rough, or of a first order that says nothing.
    other : Finding
    failures, rows : int
        Of the plain simulation.
    aimed : Finding, optional
        Of the aimed sample. It may well have missed a region of failure, and is then too low; what it has met fails,
        so that a figure far below it has missed something itself.
    """
    if other.doubt:
        # Where the other one met no failure either, a value of first order is as small as it says.
        if usual.doubt or (usual.kind is Kind.FIRST_ORDER and other.probability > 0.0):
            return replace(usual, doubt=f"{usual.doubt} {other.doubt}".strip())
        return replace(usual, note=f"{usual.note} {other.doubt}".strip())
    sampled = usual.kind is Kind.SAMPLED and usual.probability > 0.0
    if sampled and not usual.doubt and usual.standard_error <= other.standard_error:
        return usual
    doubt = _disagreement(other, failures, rows, other.method)
    if not doubt and aimed is not None:
        above = aimed.probability - other.probability
        if above > _ERRORS_APART * float(np.hypot(aimed.standard_error, other.standard_error)):
            doubt = (
                f"The aimed sample says {aimed.probability:.2g}, {other.method.partition(':')[0]} "
                f"{other.probability:.2g}."
            )
    lower, upper = other.lower, other.upper
    if doubt:
        lower, upper = min(lower, usual.lower), max(upper, usual.upper)
    instead = usual.note or (_INSTEAD.format(usual.doubt) if usual.doubt else "")
    return replace(other, lower=lower, upper=upper, doubt=doubt, note=f"{other.note} {instead}".strip())


def by_counts(whole: Finding, failures: Mapping[T, int], rows: int) -> dict[T, Finding]:
    """Return the parts of a figure of which the sample does not tell them, in the shares of a plain simulation.

    Parameters
    ----------
    whole : Finding
    failures : mapping
        Rows of the plain simulation that are of each part.
    rows : int
        Of the plain simulation.
    """
    total = sum(failures.values())
    few = f"Only {total:,} of {rows:,} rows of the plain simulation tell the parts of this figure."
    parts = {}
    for name, count in failures.items():
        if not total:  # nothing tells the parts, and any of them may be the whole
            parts[name] = Finding(0.0, 0.0, whole.upper, 0.0, whole.method, doubt=few)
            continue
        share, p = count / total, whole.probability * count / total
        low, high = (float(bound) for bound in proportion(count, total))
        error = float(
            np.hypot(whole.probability * np.sqrt(share * (1.0 - share) / total), share * whole.standard_error)
        )
        doubt = " ".join(text for text in (whole.doubt, few if total < SOME_FAILURES else "") if text)
        parts[name] = Finding(
            p, whole.lower * low, whole.upper * high, error, whole.method, doubt=doubt, note=whole.note
        )
    return parts


def _disagreement(figure: Finding, failures: int, rows: int, who: str) -> str:
    """Say where the count of a plain simulation is next to impossible under every value of the interval."""
    # Binomial tails as incomplete beta functions: so many failures or more, and so many or fewer.
    too_many = float(betainc(failures, rows - failures + 1, figure.upper)) if failures else 1.0
    too_few = 1.0 - float(betainc(failures + 1, rows - failures, figure.lower)) if failures < rows else 1.0
    if min(too_many, too_few) >= _UNLIKELY:
        return ""
    return (
        f"{failures:,} of {rows:,} rows of the plain simulation failed; {who} says {figure.probability:.2g}."
    )
