"""A design point behind the one that the steepest slope leads to; places known exactly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from riskcut.reliability.competing_points import with_competing
from riskcut.reliability.design_points import find
from riskcut.reliability.problem import Component, Problem, Response
from riskcut.reliability.standard_space import StandardSpace
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Normal

MANY = 60


def space_of(margin) -> StandardSpace:
    def respond(x, which):
        return Response(np.repeat(margin(x)[:, np.newaxis], len(which), axis=1))

    joint = Joint([Normal(mean=0.0, sd=1.0)] * (1 + MANY))
    columns = tuple(range(1 + MANY))
    return StandardSpace(Problem(joint, (Component("one", (), columns, ("g",), (True,), respond),)))


def one_or_all(x):
    """One variable has a steep slope; all others together fail it sooner, and at its own point they hardly show."""
    together = x[:, 1:].sum(axis=1) / np.sqrt(MANY)
    apart = (x[:, 1::2] - x[:, 2::2]).sum(axis=1) / np.sqrt(MANY)
    alone = (70.0 - 2.0 * together) * (1.0 - x[:, 0] / 7.0) - 0.5 * apart
    return alone - 20.0 * np.maximum(together - 3.0, 0.0) ** 2


def nearest_by_all() -> float:
    """Along a line of x0 and the others together, tried out finely; what the others do apart hardly matters."""
    together = np.linspace(4.0, 5.0, 100_001)
    x0 = 7.0 * (1.0 - 20.0 * (together - 3.0) ** 2 / (70.0 - 2.0 * together))
    return float(np.hypot(x0, together).min())


def test_the_nearer_point_is_found():
    space = space_of(one_or_all)
    search = find(space, 0, 0)
    assert search.points[0].beta == pytest.approx(7.0, abs=0.05)  # or there is nothing to show here
    more = with_competing(space, 0, 0, search)
    assert more.points[0].kind == "point"
    assert more.points[0].beta == pytest.approx(nearest_by_all(), abs=0.03)
    assert more.converged
    assert more.reason.endswith("without the variable that decides it: a nearer one, 1 in all.")
    assert space.ledger.rows == more.rows > search.rows
    assert space.ledger.calls == more.calls


def test_a_plane_has_no_other_and_costs_little_more():
    space = space_of(lambda x: 4.0 - 0.8 * x[:, 0] - 0.6 * x[:, 1])
    search = find(space, 0, 0)
    more = with_competing(space, 0, 0, search)
    assert [point.beta for point in more.points] == pytest.approx([4.0])
    assert more.points == search.points  # what fails without the one is too far to be looked at
    assert more.rows - search.rows <= 2 * (1 + MANY + 1)


def test_where_no_variable_decides_nothing_is_looked_for():
    space = space_of(lambda x: 4.0 - x[:, :4].sum(axis=1) / 2.0)
    search = find(space, 0, 0)
    assert with_competing(space, 0, 0, search) is search
    lost = replace(search, points=())
    assert with_competing(space, 0, 0, lost) is lost
