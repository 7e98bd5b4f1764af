"""The standard space of some components: shared coordinates, points carried from one space to another, costs."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.reliability.problem import Component, Problem, Response
from riskcut.reliability.standard_space import Ledger, Point, StandardSpace
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Lognormal, Normal

MATRIX = np.array([[1.0, 0.6, 0.0, 0.3], [0.6, 1.0, 0.0, 0.2], [0.0, 0.0, 1.0, 0.0], [0.3, 0.2, 0.0, 1.0]])


def problem() -> Problem:
    def total(x, which):
        return Response(np.repeat(x.sum(axis=1)[:, np.newaxis], len(which), axis=1))

    joint = Joint([Normal(mean=5.0, sd=2.0)] * 3 + [Lognormal(mean=3.0, sd=1.0)], correlation=MATRIX)
    few = Component("few", (), (0, 3), ("a", "b"), (True, True), total)
    more = Component("more", (), (0, 1, 2, 3), ("a",), (True,), total)
    return Problem(joint, (few, more))


def test_a_space_holds_what_its_components_read():
    whole, few = problem(), StandardSpace(problem(), [0])
    assert few.drivers == (0, 3)
    assert few.dimension == 2
    both = StandardSpace(whole)
    assert both.drivers == (0, 1, 2, 3)
    u = np.array([[0.7, -0.2]])
    z = few.scores(u)[0]
    assert z == pytest.approx([0.7, 0.3 * 0.7 - np.sqrt(1 - 0.09) * 0.2])
    assert few.values(u, 0)[0, 0] == pytest.approx(5.0 + 2.0 * 0.7)


@settings(deadline=None, max_examples=50)
@given(st.lists(st.floats(-4.0, 4.0), min_size=2, max_size=2))
def test_a_point_keeps_its_scores_and_its_distance_in_a_larger_space(scores):
    few, more = StandardSpace(problem(), [0]), StandardSpace(problem(), [1])
    point = Point((0, 3), np.array(scores))
    small, large = few.lifted(point), more.lifted(point)
    z = more.scores(large[np.newaxis, :])[0]
    assert z[[0, 3]] == pytest.approx(scores, abs=1e-9)
    assert z[2] == pytest.approx(0.0, abs=1e-12)  # tied to nothing
    # The least distant place with these scores: |u|^2 = z' R^-1 z of those scores alone.
    least = np.array(scores) @ np.linalg.solve(MATRIX[np.ix_([0, 3], [0, 3])], scores)
    assert small @ small == pytest.approx(least, abs=1e-9)
    assert large @ large == pytest.approx(least, abs=1e-9)
    back = few.lifted(more.point(large).of(few.drivers))
    assert back == pytest.approx(small, abs=1e-9)


def test_a_driver_that_the_space_lacks_is_refused():
    few = StandardSpace(problem(), [0])
    with pytest.raises(ValueError, match="no driver 1"):
        few.lifted(Point((1,), np.zeros(1)))


def test_costs_are_counted_where_the_model_is_called():
    space = StandardSpace(problem(), [0])
    twin = space.apart()
    twin.margins(np.zeros((7, 2)), 0, [0, 1])
    assert space.ledger == Ledger()
    assert twin.ledger == Ledger(calls=1, rows=7, margin_evaluations=14)
    space.ledger.absorb(twin.ledger)
    space.ledger.absorb(twin.ledger)
    assert space.ledger == Ledger(calls=2, rows=14, margin_evaluations=28)
