"""Failing rows that no known design point explains, and the design points that they lead to.

A search from the origin follows slopes, and a surface may hide behind a kink or a step that no slope tells of. So the
design points are tried out: rows are drawn about them, and failing rows on the origin's side of every tangent plane
of their limit state are strangers. Where they weigh in its estimate and make it rough, the nearest of them and the one
farthest round from all known points start another search. Where that finds no other design point the surface bends: the
tangent plane at the place where the surface is met on the way to the stranger is then sampled about as well, at its
foot, or at that place itself where the foot is safe. All rows are thrown away; what is found only tells a later
sample where to look.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from riskcut.reliability.design_point import DesignPoint, Limits, Search
from riskcut.reliability.design_points import find
from riskcut.reliability.limit_surface import Cut, LimitSurface
from riskcut.reliability.standard_space import StandardSpace

Floats = NDArray[np.float64]

_NEAR_SIDE = 0.25
"""Standard deviations before a tangent plane from which a failing row is a stranger."""
_WEIGHT = 0.02
"""Share of the estimate from which strangers are followed."""
_LEAST = 1e-13
"""Probability from which they are,"""
_ROUGHNESS = 0.3
"""Share of its second moment from which they are: with less they hardly take more rows."""
_ALL_ROUND, _MANY = 0.3, 30
"""Share, and number of rows behind it, of strangers that no further place will ever explain."""
_SAME = 1e-2
"""Distance between two places that are one design point."""
_ASIDE = 0.5
"""Distance from every other centre that makes a place worth one that is no design point."""
_STEPS = 64
"""On the way to a stranger."""
_NO_FURTHER = Limits(attempts=0, iterations=8)
"""A search that a stranger starts looks for nothing else, and not for long: where the surface bends nearly as a sphere
does, each place is as good as the next one, and none is ever arrived at."""
ASIDE = "aside"
"""Kind of a point that is no design point: a place farther round the surface that is worth sampling about."""


@dataclass(frozen=True)
class Strangers:
    """Those of one limit state."""

    starts: tuple[int, ...]
    """Rows to search from, of those not tried before: the nearest, and the farthest round."""
    share: float
    """Of the limit state's estimate by the rows drawn."""
    count: int
    """How many there are."""

    @property
    def all_round(self) -> bool:
        """Whether so much is unexplained, by so many rows, that failure lies all round the places known."""
        return self.share > _ALL_ROUND and self.count >= _MANY


def strangers(
    u: Floats, weight: Floats, points: Sequence[Floats], tried: NDArray[np.bool_]
) -> Strangers | None:
    """Return the failing rows of a limit state that no design point explains, None where they weigh nothing.

    Parameters
    ----------
    u : ndarray, (n, m)
        Failing rows, in the space of the limit state's own component.
    weight : ndarray, (n,)
        What each adds to the estimate.
    points : sequence of ndarray (m,)
        The design points known; the origin is none of them.
    tried : ndarray, (n,)
        Rows that a search has started from before.
    """
    strange = np.ones(len(u), dtype=np.bool_)
    cosine = np.full(len(u), -1.0)
    size = np.sqrt(np.einsum("ij,ij->i", u, u))
    for point in points:
        distance = float(np.linalg.norm(point))
        along = np.einsum("ij,j->i", u, point / distance)  # a threaded library has its threads wait for more
        strange &= along < distance - _NEAR_SIDE
        np.maximum(cosine, along / size, out=cosine)
    mass = float(weight[strange].sum())
    share = mass / float(weight.sum()) if mass > 0.0 else 0.0
    squares = weight * weight
    if mass < _LEAST or share < _WEIGHT or squares[strange].sum() < _ROUGHNESS * squares.sum():
        return None
    left = np.flatnonzero(strange & ~tried)
    picks = dict.fromkeys((left[np.argmin(size[left])], left[np.argmin(cosine[left])])) if left.size else ()
    return Strangers(tuple(map(int, picks)), share, int(strange.sum()))


def followed(
    space: StandardSpace, component: int, limit_state: int, search: Search, starts: Sequence[Floats]
) -> Search | None:
    """Return a search completed by what other starts lead to, None where that is nothing new.

    Parameters
    ----------
    space : StandardSpace
    component, limit_state : int
    search : Search
        Of that limit state.
    starts : sequence of ndarray, (m,)
    """
    found = find(space, component, limit_state, starts=starts, limits=_NO_FURTHER)
    rows, calls, impossible = found.rows, found.calls, found.impossible
    new = [
        point
        for point in found.points
        if point.beta > 0.0 and _is_new(point, search.points, _SAME if point.kind == "point" else _ASIDE)
    ]
    if not new:
        surface = LimitSurface(space, component, limit_state, Limits())
        for start in starts:
            places = (point for point in _tangent(surface, start) if point.beta > 0.0)
            known = (*search.points, *new)
            new += [point for point in places if _is_new(point, known, _ASIDE)][:1]
        rows, calls = rows + surface.rows, calls + surface.calls
        impossible += surface.impossible
    if not new:
        return None
    points = sorted((*search.points, *new), key=lambda point: (point.kind == ASIDE, point.beta))
    completed = replace(
        search,
        points=tuple(points),
        converged=search.converged or found.converged,
        reason=f"{search.reason} {len(new)} more, from failing rows that no point explained.",
    )
    return completed.having_spent(rows, calls, impossible)


def _is_new(point: DesignPoint, known: Sequence[DesignPoint], distance: float) -> bool:
    return all(float(np.linalg.norm(point.u - one.u)) > distance for one in known)


def _tangent(surface: LimitSurface, start: Floats) -> Iterator[DesignPoint]:
    """Yield the foot of the tangent plane where the way from the origin to a failing row meets the surface.

    Then that place itself, and that alone where the foot is safe; nothing where there is no slope.
    """
    way = np.linspace(0.0, 1.0, _STEPS + 1)[1:, np.newaxis] * start
    margins = surface.margins(way)
    failing = np.flatnonzero(margins < 0.0)
    if not failing.size:
        return
    cut = surface.cuts(way[failing[0]][np.newaxis, :])[0]
    if cut.norm == 0.0 or cut.margin > 0.0:
        return
    foot = cut.foot
    reached = 0.0 < float(np.linalg.norm(foot)) <= surface.limits.radius and float(foot @ cut.gradient) < 0.0
    # A foot beyond a step or another plane may be safe: nothing is drawn about such a place.
    slack = surface.limits.distance * cut.norm * max(1.0, float(np.linalg.norm(cut.u)))
    if reached and float(surface.margins(foot[np.newaxis, :])[0]) <= slack:
        yield _aside(foot, cut)
    yield _aside(cut.u, cut)


def _aside(place: Floats, cut: Cut) -> DesignPoint:
    size = float(np.linalg.norm(place))
    return DesignPoint(place, size, place / size, cut.norm, ASIDE, cut.distance, 0.0)
