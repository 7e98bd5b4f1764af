"""Reading some columns of a joint distribution over and over, as quickly for a few rows as for many.

A search for a design point asks for one to some sixty rows at a time; then calling numpy column by column costs
far more than the numbers do. Most families are a straight line between two functions of one number,

.. math:: x = g(a + b f(z)),

and all columns of one such family are read in one go. Every number is had by the same operations in the same order as
by :meth:`Marginal.from_normal`, so that it is the same to the last bit.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from riskcut.uncertainty.gumbel_score import score
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Gumbel, Lognormal, Marginal, Normal

Floats = NDArray[np.float64]

FEW = 512
"""Rows up to which families are read together; beyond, a column at a time stays in the cache."""


class _Family(NamedTuple):
    """The columns of one family: how they are read, all at once."""

    places: list[int]
    """Among the columns that are read."""
    drivers: list[int]
    read: Callable[[Floats], Floats]
    """From their scores (k, n) to their values, written over them."""


class Reader:
    """Turns correlated normal scores into the values of some columns.

    Parameters
    ----------
    joint : Joint
    columns : sequence of int
        Those wanted, in that order.
    """

    def __init__(self, joint: Joint, columns: Sequence[int]) -> None:
        self._joint = joint
        self._columns = tuple(columns)

    def __call__(self, z: Floats) -> Floats:
        """Return the values (n, len(columns)) at the scores (n, m), as :meth:`Joint.physical` does."""
        if len(z) > FEW:
            return self._joint.physical(z, self._columns)
        x = np.empty((len(self._columns), len(z)))
        for family in self._families:
            x[family.places] = family.read(z.T[family.drivers])
        return x.T

    @cached_property
    def _families(self) -> tuple[_Family, ...]:
        places: dict[object, list[int]] = defaultdict(list)
        for place, column in enumerate(self._columns):
            marginal = self._joint.marginals[column]
            places[type(marginal) if isinstance(marginal, _STRAIGHT) else place].append(place)
        return tuple(self._family(members) for members in places.values())

    def _family(self, places: list[int]) -> _Family:
        columns = [self._columns[place] for place in places]
        marginals = [self._joint.marginals[column] for column in columns]
        return _Family(places, [self._joint.driver[column] for column in columns], _reading(marginals))


_STRAIGHT = (Normal, Lognormal, Gumbel)


def _reading(marginals: Sequence[Marginal]) -> Callable[[Floats], Floats]:
    """Return how marginals of one straight family, or one of any, are read from their scores (k, n)."""
    first = marginals[0]
    if isinstance(first, Normal):
        slope, start = _column(marginals, "sd"), _column(marginals, "mean")
        return lambda z: _line(z, slope, start)
    if isinstance(first, Lognormal):
        slope, start = _column(marginals, "log_sd"), _column(marginals, "log_mean")
        return lambda z: np.exp(_line(z, slope, start), out=z)
    if isinstance(first, Gumbel):
        slope, start = _column(marginals, "scale"), _column(marginals, "location")
        return lambda z: _line(score(z, z), slope, start)
    return lambda z: first.from_normal(z, z)


def _column(marginals: Sequence[Marginal], name: str) -> Floats:
    return np.array([[getattr(marginal, name)] for marginal in marginals])


def _line(z: Floats, slope: Floats, start: Floats) -> Floats:
    z *= slope
    z += start
    return z
