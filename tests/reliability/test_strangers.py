"""Strangers: failing rows that no tangent plane explains, and what they lead to; places known exactly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from riskcut.reliability.design_points import find
from riskcut.reliability.pilot_rows import PilotRows
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


def strange(space, point, seed=1, tried=()):
    """Return the failing rows about a point, and the strangers among them."""
    rows = PilotRows(space, {0: (0,)}, seed=seed)
    rows.about([(1024, [point])])
    failing = np.flatnonzero(rows.margins[0, 0] < 0.0)
    weight = rows.weighed()[1][failing] / len(rows)
    return rows.u[failing], strangers(
        rows.u[failing], weight, [point], np.isin(np.arange(len(failing)), tried)
    )


def test_a_plane_has_no_strangers():
    space = space_of(lambda x: 3.0 - x[:, 0])
    for seed in range(5):
        assert strange(space, np.array([3.0, 0.0, 0.0]), seed)[1] is None


def test_rows_behind_a_step_are_strangers_and_lead_to_their_mode():
    def margin(x):
        return np.where(x[:, 1] > 1.5, 2.6, 4.0) - x[:, 0]

    space = space_of(margin)
    search = find(space, 0, 0)
    assert search.points[0].u == pytest.approx([4.0, 0.0, 0.0], abs=1e-3)
    point = search.points[0].u
    u, some = strange(space, point)
    assert some is not None
    rows = u[list(some.starts)]
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
    _, some = strange(sphere, point)
    assert some is not None
    assert some.all_round
    step = space_of(lambda x: np.where(x[:, 1] > 1.5, 3.6, 4.0) - x[:, 0])
    _, some = strange(step, point)
    assert some is not None
    assert some.share > 0.02
    assert not some.all_round


def test_rows_that_led_to_nothing_are_no_starts_again():
    space = space_of(lambda x: np.where(x[:, 1] > 1.5, 2.6, 4.0) - x[:, 0])
    point = np.array([4.0, 0.0, 0.0])
    _, first = strange(space, point)
    u, second = strange(space, point, tried=first.starts)
    assert second.count == first.count
    assert second.share == first.share
    assert not set(second.starts) & set(first.starts)
    assert np.linalg.norm(u[second.starts[0]]) > np.linalg.norm(u[first.starts[0]])


def test_strangers_too_rare_to_matter_are_left():
    u, weight = np.array([[8.0, 0.0], [0.0, 8.5]]), np.array([1e-15, 1e-14])
    point, none = np.array([8.0, 0.0]), np.zeros(2, dtype=np.bool_)
    assert strangers(u, weight, [point], none) is None
    assert strangers(u, 1e3 * weight, [point], none).starts == (1,)
