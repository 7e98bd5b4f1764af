"""A design point that hides behind the one that a search was led to.

Where ways of failing compete, the one with the steepest slope leads a search to it, however far that is, and hides the
others. Its slope is mostly one variable's. So that variable is held at its median, the search done again, and once
more with all variables from where that ends.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from riskcut.reliability.design_point import Limits, Search
from riskcut.reliability.design_points import find
from riskcut.reliability.limit_surface import LimitSurface
from riskcut.reliability.nearest_point import walk
from riskcut.reliability.standard_space import StandardSpace

_DECIDES = 0.3
"""Share of the variance of the linearised margin from which a variable decides."""
_ITERATIONS = 15
_FARTHER = 2.5
"""Standard deviations farther than the known point, up to which one without what decides it is of use."""


def with_competing(space: StandardSpace, component: int, limit_state: int, search: Search) -> Search:
    """Return a search completed by what competes with its nearest design point, if anything does.

    Parameters
    ----------
    space : StandardSpace
    component, limit_state : int
    search : Search
        Of that limit state.
    """
    nearest = search.points[0] if search.points else None
    if nearest is None or nearest.kind != "point" or not search.origin > 0.0:
        return search
    decides = int(np.argmax(nearest.importance))
    if nearest.importance[decides] < _DECIDES:
        return search
    surface = LimitSurface(space, component, limit_state, Limits())
    surface.held = decides
    far = nearest.beta + _FARTHER
    end = walk(surface, surface.cut(np.zeros(space.dimension)), iterations=_ITERATIONS, reach=far)
    place = end.cut.u
    found = search
    if end.kind in ("point", "local", "stuck") and float(np.linalg.norm(place)) < far:
        found = find(space, component, limit_state, starts=[place, *(point.u for point in search.points)])
    apart = found is not search
    return replace(
        found,
        rows=search.rows + surface.rows + (found.rows if apart else 0),
        calls=search.calls + surface.calls + (found.calls if apart else 0),
        margin_evaluations=search.margin_evaluations + surface.rows + (found.rows if apart else 0),
        impossible=search.impossible + surface.impossible + (found.impossible if apart else 0),
    )
