"""The same bits however the blocks are computed; the cost counted to the last row."""

from __future__ import annotations

import numpy as np
import pytest
from importance_cases import design_points, planes, random_directions
from reliability_cases import bits
from scipy import stats

from riskcut.reliability.allocation import allocate, pilot, wanted_errors
from riskcut.reliability.importance import Sampler, sample
from riskcut.reliability.mixture import mixture_of
from riskcut.reliability.standard_space import Ledger

ALPHAS = random_directions(4, 5)
PROBABILITIES = np.array([1e-2, 1e-4, 1e-6, 0.8])
BETAS = stats.norm.isf(PROBABILITIES)
CENTRES = design_points(ALPHAS, BETAS)
SYSTEMS = {"any": [(0, 0), (0, 1), (0, 2)]}


def without_mixture(tally):
    plain = {name: value for name, value in vars(tally).items() if name != "mixture"}
    return bits(plain | {"centres": tally.mixture.centres, "weights": tally.mixture.weights})


def run(rows_per_block=8192, blocks=5):
    space = planes(ALPHAS, BETAS)
    tally = sample(
        space,
        centres=CENTRES,
        systems=SYSTEMS,
        blocks=blocks,
        rows_per_block=rows_per_block,
        seed=11,
        purpose="bits",
        turned=[(0, 3)],
    )
    return without_mixture(tally), space.ledger


@pytest.mark.parametrize("rows_per_block", [8192, 37])
def test_the_same_bits_again_and_the_cost(rows_per_block):
    one, cost = run(rows_per_block)
    assert run(rows_per_block) == (one, cost)
    # Small blocks are evaluated together.
    calls = 5 if rows_per_block == 8192 else 1
    assert cost == Ledger(calls=calls, rows=5 * rows_per_block, margin_evaluations=20 * rows_per_block)


def test_blocks_alone_in_any_order_are_the_blocks_of_the_run():
    space = planes(ALPHAS, BETAS)
    common = {"which": None, "systems": SYSTEMS, "seed": 11, "purpose": "bits", "rows_per_block": 512}
    sampler = Sampler(space, mixture_of(CENTRES, 5), **common)
    whole = sampler.each_block(6, lambda draw, verdicts: (draw, verdicts))
    for index in (4, 0, 5, 2):
        ((draw, verdicts),) = Sampler(space, mixture_of(CENTRES, 5), **common).judged([index])
        assert bits(draw) == bits(whole[index][0])
        assert bits(tuple(verdicts)) != ()
        for one, other in zip(verdicts, whole[index][1], strict=True):
            np.testing.assert_array_equal(one.certain, other.certain)


def test_more_blocks_begin_with_the_same_ones():
    space = planes(ALPHAS, BETAS)
    few, many = (
        sample(space, centres=CENTRES, blocks=blocks, rows_per_block=256, seed=3, purpose="a")
        for blocks in (3, 7)
    )
    np.testing.assert_array_equal(few.means, many.means[:3])
    np.testing.assert_array_equal(few.variances, many.variances[:3])


def test_the_pilot_and_its_allocation_too_and_its_stream_is_its_own():
    def plan():
        space = planes(ALPHAS, BETAS)
        first = pilot(space, centres=CENTRES, systems=SYSTEMS, seed=11, rows_per_centre=2100)
        return first, allocate(first, wanted=wanted_errors(first)), space.ledger

    (first, planned, cost), (again, planned_again, cost_again) = plan(), plan()
    np.testing.assert_array_equal(first.log_ratios, again.log_ratios)
    np.testing.assert_array_equal(planned.weights, planned_again.weights)
    assert planned.reason == planned_again.reason
    assert cost == cost_again == Ledger(calls=2, rows=first.rows, margin_evaluations=4 * first.rows)
    assert first.rows == 8400
    assert first.turned_names == ((0, 3),)


def test_a_failing_model_stops_the_run():
    space = planes(ALPHAS, BETAS)

    def respond(_x, _which):
        raise RuntimeError("the model broke")

    object.__setattr__(space.components[0], "respond", respond)
    with pytest.raises(RuntimeError, match="the model broke"):
        sample(space, centres=[], blocks=4, rows_per_block=16, seed=1, purpose="a")
