"""Strangers: failing rows that no tangent plane explains, and what they lead to; places known exactly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from riskcut.reliability.design_points import find
from riskcut.reliability.problem import Component, Problem, Response
from riskcut.reliability.standard_space import StandardSpace
from riskcut.reliability.strangers import ASIDE, followed, strangers
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Normal

RISE = np.sqrt(1.0 - 0.95**2)


def space_of(margin) -> StandardSpace:
    def respond(x, which):
        return Response(np.repeat(margin(x)[:, np.newaxis], len(which), axis=1))

    joint = Joint([Normal(mean=0.0, sd=1.0)] * 3)
    return StandardSpace(Problem(joint, (Component("one", (), (0, 1, 2), ("g",), (True,), respond),)))


def test_a_plane_has_no_strangers():
    space = space_of(lambda x: 3.0 - x[:, 0])
    point = np.array([3.0, 0.0, 0.0])
    for turn in range(5):
        assert strangers(space, {(0, 0): [point]}, [point], seed=1, turn=turn) == {}
    assert strangers(space, {(0, 0): [point]}, [], seed=1, turn=0) == {}


def test_rows_behind_a_step_are_strangers_and_lead_to_their_mode():
    def margin(x):
        return np.where(x[:, 1] > 1.5, 2.6, 4.0) - x[:, 0]

    space = space_of(margin)
    search = find(space, 0, 0)
    assert search.points[0].u == pytest.approx([4.0, 0.0, 0.0], abs=1e-3)
    point = search.points[0].u
    rows = strangers(space, {(0, 0): [point]}, [point], seed=1, turn=0)[0, 0].rows
    for row in rows:
        assert row[0] < 4.0
        assert row[1] > 1.5
    more = followed(space, 0, 0, search, rows)
    assert more is not None
    first, *new = more.points
    assert first == search.points[0]
    assert new
    for place in new:
        # The foot of the plane behind the step, (2.6, 0), is safe: the place is on the way to a row, and fails.
        assert place.kind == ASIDE
        assert 2.6 <= place.u[0] < 4.0
        assert place.u[1] > 1.5
        assert space.margins(place.u[np.newaxis, :], 0, [0])[0, 0] <= 0.0
    assert more.rows > search.rows


def test_a_bend_gives_the_foot_of_its_other_plane():
    # The foot of the second plane, (4.25, 0), fails by the first: it is no design point of its own.
    def margin(x):
        return np.minimum(4.0 - (0.95 * x[:, 0] + RISE * x[:, 1]), 4.25 - x[:, 0])

    space = space_of(margin)
    search = find(space, 0, 0)
    assert search.points[0].u == pytest.approx([3.8, 4.0 * RISE, 0.0], abs=1e-3)
    assert len(search.points) == 1
    # A row that fails by the second plane alone.
    more = followed(space, 0, 0, search, [np.array([4.5, -3.0, 0.5])])
    assert more is not None
    (aside,) = [point for point in more.points if point.kind == ASIDE]
    assert aside.u == pytest.approx([4.25, 0.0, 0.0], abs=1e-3)
    assert more.points[0].kind != ASIDE
    assert followed(space, 0, 0, more, [np.array([4.5, -0.3, 0.1])]) is None


def test_a_surface_round_the_origin_is_not_walked_along_for_long():
    """Each place of a cylinder is as near as any other: a row farther round gives a place to sample about, soon."""
    space = space_of(lambda x: 4.0 - np.hypot(x[:, 0], 1.001 * x[:, 1]))
    search = find(space, 0, 0)
    search = replace(search, points=search.points[:1])
    there = search.points[0].u
    calls = space.ledger.calls
    more = followed(space, 0, 0, search, [np.array([-there[1], there[0], 0.0]) * 1.2])
    assert more is not None
    assert space.ledger.calls - calls < 30
    (new,) = [point for point in more.points if all(point is not one for one in search.points)]
    assert np.hypot(new.u[0], 1.001 * new.u[1]) == pytest.approx(4.0, abs=0.05)
    assert np.linalg.norm(new.u - there) > 0.5


def test_a_sphere_is_all_round_and_a_plane_with_a_step_is_not():
    sphere = space_of(lambda x: 4.0 - np.linalg.norm(x, axis=1))
    point = np.array([4.0, 0.0, 0.0])
    assert strangers(sphere, {(0, 0): [point]}, [point], seed=1, turn=0)[0, 0].all_round
    step = space_of(lambda x: np.where(x[:, 1] > 1.5, 3.6, 4.0) - x[:, 0])
    some = strangers(step, {(0, 0): [point]}, [point], seed=1, turn=0)[0, 0]
    assert some.share > 0.02
    assert not some.all_round
