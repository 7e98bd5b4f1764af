"""Working out once a block what several mechanisms ask of its ground: parts of a profile between two levels."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from functools import wraps
from typing import Protocol, TypeVar

import numpy as np

from riskcut.study.block import Number, Strata, Stratum

T = TypeVar("T", covariant=True)


class Between(Protocol[T]):
    """A function of strata between two levels, m."""

    def __call__(self, strata: Sequence[Stratum], *, upper: Number, lower: Number) -> T:
        """Return what it finds there."""


def of_the_block(function: Callable[[Sequence[Stratum]], T]) -> Callable[[Sequence[Stratum]], T]:
    """Return a function of strata alone that is worked out once a block."""

    @wraps(function)
    def known(strata: Sequence[Stratum]) -> T:
        if not isinstance(strata, Strata):
            return function(strata)
        if function not in strata.found:
            strata.found[function] = function(strata)
        found: T = strata.found[function]
        return found

    return known


def once(function: Between[T]) -> Between[T]:
    """Return a function of strata between two levels that is worked out once for the same levels of one block.

    Strata that are no block's (:class:`Strata`) remember nothing. What is found is shared: nobody may write over it.
    """

    @wraps(function)
    def known(strata: Sequence[Stratum], *, upper: Number, lower: Number) -> T:
        if not isinstance(strata, Strata):
            return function(strata, upper=upper, lower=lower)
        key = (function, _known_as(upper), _known_as(lower))
        entry = strata.found.get(key)
        if entry is None:
            # The levels are kept with it: an address tells one array from another only while both live.
            entry = strata.found[key] = (function(strata, upper=upper, lower=lower), upper, lower)
        found: T = entry[0]
        return found

    return known


def _known_as(level: Number) -> Hashable:
    """Return what tells a level from others: an array by being the same one, a number by its value."""
    return id(level) if isinstance(level, np.ndarray) else float(level)
