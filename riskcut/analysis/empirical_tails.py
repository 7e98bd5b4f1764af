"""What may not be read from data that stand for a distribution themselves: they have no tails.

A failure probability below ten over their number would rest on fewer than ten of them, and one smaller than any
of them on none at all: the distribution ends at its greatest value, which the number itself does not.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from riskcut.analysis.binding import Bound
from riskcut.analysis.limit_states import LimitState
from riskcut.analysis.parts import Part
from riskcut.analysis.scenarios import Piece
from riskcut.study.template import readings
from riskcut.uncertainty.empirical import Empirical

UNKNOWN_TAIL = "Pf below 10/{n} of an empirical distribution of {n} values: its tail is not known"


class EmpiricalTails:
    """Withdraws trust from failure probabilities that lie in the unknown tail of an empirical distribution."""

    def __init__(self, bound: Bound) -> None:
        self._marginals = bound.marginals
        self._of_union: dict[str, Empirical] = {}
        parts = {part.name: part for made_of in bound.parts.values() for part in made_of}
        for component in bound.problem.components:
            part = parts[component.name]
            governing = [state for state in part.states if state.member.governing]
            for union in component.unions:
                found = [self._of_union[union]] if union in self._of_union else []
                found += [one for state in governing for one in self._read(part, state)]
                if found:
                    self._of_union[union] = _smallest(found)

    def of_limit_state(self, piece: Piece, part: Part, state: LimitState) -> Piece:
        """Return the piece of a limit state, in doubt where it lies in a tail that it reads."""
        return _doubted(piece, list(self._read(part, state)))

    def of_union(self, piece: Piece, union: str) -> Piece:
        """Return the piece of a union, in doubt where it lies in a tail that one of its limit states reads."""
        return _doubted(piece, [self._of_union[union]] if union in self._of_union else [])

    def _read(self, part: Part, state: LimitState) -> Iterable[Empirical]:
        """Yield the empirical distributions that a limit state may read."""
        pattern = part.block.template.pattern
        names = {f.name for f in dataclasses.fields(pattern)} - state.mechanism.unaffected_by
        for column in sorted(readings(tuple(getattr(pattern, name) for name in names))):
            marginal = self._marginals[column]
            if isinstance(marginal, Empirical):
                yield marginal


def _smallest(read: list[Empirical]) -> Empirical:
    return min(read, key=lambda marginal: marginal.size)


def _doubted(piece: Piece, read: list[Empirical]) -> Piece:
    """Return a piece with what is not known of it: it may be as large as the least probability that can be read."""
    if not read or piece.certain:
        return piece
    fewest = _smallest(read)
    if float(np.max(piece.probability)) >= fewest.least_probability:
        return piece
    upper = np.maximum(piece.upper, min(fewest.least_probability, 1.0))
    reason = UNKNOWN_TAIL.format(n=fewest.size)
    return replace(piece, upper=upper, doubt=f"{reason}; {piece.doubt}" if piece.doubt else reason)
