"""Where a search for design points begins, and what heavy rows lead to; places known exactly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr

from riskcut.reliability.design_points import find
from riskcut.reliability.importance import sample
from riskcut.reliability.mixture import Centre
from riskcut.reliability.problem import Component, Problem, Response
from riskcut.reliability.searches import Searches
from riskcut.reliability.standard_space import Ledger, StandardSpace
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Normal


def stages(*margins) -> Problem:
    """Return a component a margin, all with one limit state of the same label."""

    def component(name, margin):
        def respond(x, which):
            return Response(np.tile(margin(x)[:, None], (1, len(which))))

        return Component(name, ("all",), (0, 1, 2), ("g",), (True,), respond)

    joint = Joint([Normal(mean=0.0, sd=1.0)] * 3)
    return Problem(joint, tuple(component(f"stage {k}", margin) for k, margin in enumerate(margins)))


FOOT = np.array([2.0, 3.0, 3.0])
FAR = np.linalg.norm(FOOT)


def plane(x):
    return FAR - x @ FOOT / FAR


def hidden(x):
    """The same plane behind an edge alone, which no slope leads over; its foot lies just behind that."""
    return np.where(x[:, 1:].min(axis=1) > 2.8, plane(x), 5.5 - x[:, 0])


def test_the_points_of_another_stage_are_starts():
    problem = stages(plane, hidden)
    searches = Searches(problem, Ledger())
    searches.look((0, 0))
    searches.look((1, 0))
    found = searches.found[1, 0]
    assert found.points[0].beta == pytest.approx(FAR, abs=1e-4)
    assert "failing rows" not in found.reason  # at once, not by looking further
    assert find(StandardSpace(problem, [1]), 0, 0).points[0].beta == pytest.approx(5.5, abs=1e-4)


def test_a_heavy_row_leads_to_the_mode_that_it_is_of():
    """Two planes of one limit state; the sample is drawn about one of them alone, as if the other was missed."""
    problem = stages(lambda x: np.minimum(3.0 - x[:, 0], 3.2 - x[:, 1]))
    space = StandardSpace(problem)
    tally = sample(
        space,
        centres=[Centre(np.array([3.0, 0.0, 0.0]), (0, 0), float(ndtr(-3.0)))],
        blocks=10,
        seed=3,
        purpose="a",
    )
    row = tally.heaviest[0]
    assert row[1] > 3.2
    assert tally.largest_share[0] > 0.02
    searches = Searches(problem, Ledger())
    searches.look((0, 0))
    search = searches.found[0, 0]
    assert [point.beta for point in search.points] == pytest.approx([3.0, 3.2], abs=1e-4)
    searches.found[0, 0] = replace(search, points=search.points[:1])
    assert searches.pursue(space, {(0, 0): row})
    assert [point.beta for point in searches.found[0, 0].points] == pytest.approx([3.0, 3.2], abs=1e-4)
    assert len(searches.places((0, 0), space)) == 2


def test_the_heaviest_row_is_the_one_with_the_largest_weight():
    problem = stages(lambda x: 2.0 - x[:, 0], lambda x: 2.0 - x[:, 1])
    space = StandardSpace(problem)
    centres = [Centre(np.array([2.0, 0.0, 0.0]), (0, 0), float(ndtr(-2.0)))]
    tally = sample(
        space,
        centres=centres,
        blocks=3,
        rows_per_block=512,
        seed=3,
        purpose="a",
        systems={"any": [(0, 0), (1, 0)]},
    )
    draws = [tally.mixture.draw(seed=3, purpose=tally.purpose, index=i, rows=512) for i in range(3)]
    u = np.concatenate([draw.u for draw in draws])
    weight = np.exp(np.concatenate([draw.log_weight for draw in draws]))
    for e, failing in enumerate((u[:, 0] > 2.0, u[:, 1] > 2.0, (u[:, :2] > 2.0).any(axis=1))):
        best = np.flatnonzero(failing)[np.argmax(weight[failing])]
        assert weight[best] == tally.largest[e]
        assert np.array_equal(u[best], tally.heaviest[e])
