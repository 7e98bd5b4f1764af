"""Margins with known design points, and what puts them to the search."""

from __future__ import annotations

import numpy as np
from reliability_cases import margins, single

from riskcut.reliability.problem import Component, Problem, Response
from riskcut.reliability.standard_space import StandardSpace


def space_of(function, columns):
    """The standard space of one margin of independent standard normals."""
    return StandardSpace(single(margins(function), columns))


def space_on(joint, function):
    """The standard space of one margin of the columns of a joint distribution."""

    def respond(x, which):
        return Response(margin=np.stack([function(x) for _ in which], axis=1))

    one = Component("one", (), tuple(range(joint.columns)), ("margin",), (True,), respond)
    return StandardSpace(Problem(joint, (one,)))


def betas(search):
    return [point.beta for point in search.points]


def linear(alpha, beta):
    """Margin beta - alpha.u, alpha of length one."""
    return lambda x: beta - x @ alpha


def unit(numbers):
    vector = np.asarray(numbers, dtype=float)
    return vector / np.linalg.norm(vector)
