"""Failure probabilities put together over scenarios: Pf = sum of P(scenario) Pf(given scenario).

A scenario is a stage as planned, or with one event happening in it. Over the stages of a section the scenarios
are that no event happens at all, or one event at one stage; two events in the same works add what each adds by
itself. Events at different stages are independent.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from riskcut.reliability.estimates import estimate
from riskcut.reliability.finding import PLAIN, Finding, Kind
from riskcut.reliability.intervals import reliability_index
from riskcut.reliability.weighted_tally import FIRST_ORDER_FACTOR
from riskcut.results.status import Status

Floats = NDArray[np.float64]

NO_FAILURE = "no row failed: only an upper bound is known"
ALL_FAILED = "every row failed: only a lower bound is known"
MATERIAL = 0.05
"""Share of a whole from which a doubt about a part is a doubt about the whole."""
CANNOT_FAIL = "no uncertain input enters, and the margin is positive"
FIRST_ORDER = "rarer than is sampled: the value at the design point, without an interval"
ALWAYS_FAILS = "no uncertain input enters, and the margin is negative: it fails for certain"


@dataclass(frozen=True)
class Piece:
    """A failure probability with its error, of one scenario or of several put together; arrays of one shape."""

    probability: Floats
    lower: Floats
    upper: Floats
    variance: Floats
    """Of the estimate."""
    certain: bool = False
    """Whether nothing uncertain enters, so that the probability is 0 or 1 by itself."""
    first_order: bool = False
    """Whether the probability is of first or second order, not sampled: it has an upper bound alone."""
    methods: tuple[str, ...] = ()
    """How it was estimated."""
    doubt: str = ""
    """Why it is not to be trusted; empty where it is."""
    note: str = ""
    """What else is to be told of how it was estimated."""


def counted(
    failures: ArrayLike, impossible: ArrayLike, rows: ArrayLike, constant: float | None = None
) -> Piece:
    """Return the piece of counted rows.

    Parameters
    ----------
    failures, impossible, rows
        Counts that broadcast.
    constant
        The margin where it does not vary at all: it fails for certain, or cannot.
    """
    found = estimate(failures, impossible, rows)
    p, shape = found.failure_probability, found.failure_probability.shape
    if constant is not None:
        value = np.full(shape, float(constant < 0.0))
        return Piece(value, value, value, np.zeros(shape), certain=True)
    variance = p * (1.0 - p) / np.maximum(np.asarray(rows, dtype=np.float64), 1.0)
    return Piece(p, found.bounds[..., 0], found.bounds[..., 1], variance, methods=(PLAIN,))


def found(finding: Finding) -> Piece:
    """Return the piece of a finding of the probability engine."""
    return Piece(
        probability=np.asarray(finding.probability),
        lower=np.asarray(finding.lower),
        upper=np.asarray(finding.upper),
        variance=np.asarray(finding.standard_error**2),
        certain=finding.kind is Kind.CERTAIN,
        first_order=finding.kind is Kind.FIRST_ORDER,
        methods=(finding.method,),
        doubt=finding.doubt if finding.probability > 0.0 else "",  # a bound alone is a status of its own
        note=finding.note if finding.probability > 0.0 else "",
    )


def mixture(shares: Sequence[float], pieces: Sequence[Piece]) -> Piece:
    """Return the pieces of several scenarios put together.

    Parameters
    ----------
    shares
        Probability of each scenario.
    pieces
        The failure probability given each.

    Notes
    -----
    The bounds are the sums of the scenarios' bounds, each of 95 %: the scenarios read the same rows, and their
    errors may go together. A first-order probability counts with a hundredfold of itself in the upper bound, which it
    may be too low by, where simulation alone bounds it no better; with itself, where that would not count either.
    Where such ones make a twentieth of the whole, all of it is of first order.
    """
    whole = np.sum([w * piece.probability for w, piece in zip(shares, pieces, strict=True)], axis=0)
    unsampled = np.sum(
        [w * piece.probability for w, piece in zip(shares, pieces, strict=True) if piece.first_order], axis=0
    )
    all_by_order = all(piece.first_order or piece.certain for piece in pieces)
    first_order = any(piece.first_order for piece in pieces) and (
        all_by_order or bool(np.any(unsampled >= MATERIAL * whole))
    )
    if not first_order:
        pieces = [_settled(w, piece, whole) for w, piece in zip(shares, pieces, strict=True)]
    return Piece(
        probability=whole,
        lower=np.sum([w * piece.lower for w, piece in zip(shares, pieces, strict=True)], axis=0),
        upper=np.minimum(np.sum([w * p.upper for w, p in zip(shares, pieces, strict=True)], axis=0), 1.0),
        variance=np.square(
            np.sum([w * np.sqrt(piece.variance) for w, piece in zip(shares, pieces, strict=True)], axis=0)
        ),
        certain=all(piece.certain for piece in pieces),
        first_order=first_order,
        methods=tuple(dict.fromkeys(method for piece in pieces for method in piece.methods)),
        doubt=_first_of(shares, pieces, [piece.doubt for piece in pieces]),
        note=_first_of(shares, pieces, [piece.note for piece in pieces]),
    )


def _settled(share: float, piece: Piece, whole: Floats) -> Piece:
    """Return a piece of first order with an upper bound that it may reach, not with what simulation can exclude."""
    if not piece.first_order:
        return piece
    far = FIRST_ORDER_FACTOR * piece.probability
    counts = share * far >= MATERIAL * whole
    return replace(piece, upper=np.where(counts, np.minimum(piece.upper, far), piece.probability))


def _first_of(shares: Sequence[float], pieces: Sequence[Piece], texts: Sequence[str]) -> str:
    """Return the first text about a piece that makes a twentieth of the whole, or may."""
    whole = float(np.sum([w * np.max(p.probability) for w, p in zip(shares, pieces, strict=True)]))
    for share, piece, text in zip(shares, pieces, texts, strict=True):
        if text and share * float(np.max(piece.upper)) >= MATERIAL * whole:
            return text
    return ""


def over_stages(events: Mapping[str, Mapping[str, float]]) -> tuple[float, dict[tuple[str, str], float]]:
    """Return the weights by which the scenarios of a whole section make up its failure probability.

    Parameters
    ----------
    events
        Stage to its events with their probabilities.

    Returns
    -------
    planned : float
        Of the section with no event.
    one : dict
        (stage, event) to the weight of the section with that event alone.

    Notes
    -----
    With the probabilities p_e of the events, the probability P_0 of failure with no event and P_e with one,

        P = P_0 + sum_e p_e (P_e - P_0).

    Two events in one works are taken to add what each adds by itself: exact where the failures that they add exclude
    one another, else more than they do (Boole's inequality); less only where one of them saves what the other fails (a
    flood that steadies the base), and either way by no more than the number of pairs to be expected. Where the
    probabilities add up to more than one, so that the weight of P_0 would be negative, they are those of the worst
    event alone: no event, else one of them in proportion.
    """
    chances = {(stage, event): p for stage, of_stage in events.items() for event, p in of_stage.items()}
    together = sum(chances.values())
    if together <= 1.0:
        return 1.0 - together, chances
    none = float(np.prod([1.0 - sum(of_stage.values()) for of_stage in events.values()]))
    return none, {key: (1.0 - none) * p / together for key, p in chances.items()}


@dataclass(frozen=True)
class Judged:
    """A failure probability with its status, ready to be stored."""

    probability: float
    bounds: tuple[float, float]
    index: float
    index_bounds: tuple[float, float]
    variation: float
    status: Status
    reason: str
    method: str = ""
    """How it was estimated."""


def judge(piece: Piece) -> Judged:
    """Return what may be said of a piece: a zero count and a full one have one bound and no number."""
    judged = _judge(piece)
    reason = "; ".join(text for text in (judged.reason, piece.note) if text)
    return replace(judged, method=" and ".join(piece.methods), reason=reason)


def _judge(piece: Piece) -> Judged:
    nothing = float("nan")
    p = float(piece.probability)
    if piece.certain and p == 0.0:
        none = (nothing, nothing)
        return Judged(nothing, none, nothing, none, nothing, Status.CANNOT_FAIL, CANNOT_FAIL)
    if piece.first_order and not piece.doubt:
        upper = max(float(piece.upper), p)
        index, lower_index = float(reliability_index(p)), float(reliability_index(upper))
        return Judged(
            p, (nothing, upper), index, (lower_index, nothing), nothing, Status.FIRST_ORDER_ONLY, FIRST_ORDER
        )
    bounds = (min(float(piece.lower), p), max(float(piece.upper), p))
    index_bounds = (float(reliability_index(bounds[1])), float(reliability_index(bounds[0])))
    if 0.0 < p < 1.0:
        variation = float(np.sqrt(piece.variance)) / p
        status = Status.UNTRUSTED if piece.doubt else Status.COMPUTED
        return Judged(p, bounds, float(reliability_index(p)), index_bounds, variation, status, piece.doubt)
    reason = NO_FAILURE if p == 0.0 else ALWAYS_FAILS if piece.certain else ALL_FAILED
    status = Status.UNTRUSTED if piece.doubt and p == 0.0 else Status.UPPER_BOUND_ONLY
    said = piece.doubt if status is Status.UNTRUSTED else reason
    return Judged(nothing, bounds, nothing, index_bounds, nothing, status, said)
