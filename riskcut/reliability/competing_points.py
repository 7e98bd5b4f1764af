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
_NEARER = 1e-3
"""Standard deviations by which a point is a nearer one, and not the same."""
_FARTHER = 2.5
"""Standard deviations farther than the known point, up to which one without what decides it is of use."""


def with_competing(space: StandardSpace, component: int, limit_state: int, search: Search) -> Search:
    """Return a search completed by what competes with its nearest design point, if anything does.

    Parameters
    ----------
    space, component, limit_state
        As for :func:`riskcut.reliability.design_points.find`.
    search : Search
        What that found.
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
    spent = surface.rows, surface.calls, surface.impossible
    if end.kind not in ("point", "local", "stuck") or float(np.linalg.norm(end.cut.u)) >= far:
        return search.having_spent(*spent)
    starts = [end.cut.u, *(point.u for point in search.points)]
    found = find(space, component, limit_state, starts=starts).having_spent(*spent)
    nearer = "a nearer one, " if found.points[0].beta < nearest.beta - _NEARER else ""
    told = f"{search.reason} Looked for again without the variable that decides it: {nearer}{len(found.points)} in all."
    return replace(found, reason=told).having_spent(search.rows, search.calls, search.impossible)
