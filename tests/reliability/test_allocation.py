"""Size and weights from a pilot: what was asked for is what the truth spreads by, for as few rows as may be."""

from __future__ import annotations

import numpy as np
import pytest
from importance_cases import design_points, equicorrelated, paraboloid, planes, random_directions, space_of
from reliability_cases import margins
from scipy import optimize, stats

from riskcut.reliability import allocation
from riskcut.reliability.allocation import allocate, best_weights, pilot, wanted_errors
from riskcut.reliability.importance import sample
from riskcut.reliability.mixture import Centre

PROBABILITIES = np.array([1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 3e-8, 3e-9])
ALPHAS = random_directions(8, 10)
BETAS = stats.norm.isf(PROBABILITIES)
SYSTEMS = {"all": [(0, k) for k in range(8)], "rare": [(0, k) for k in range(4, 8)]}
WANTED = np.array([0.05, 0.05, 0.05, 0.05, 0.05, 0.05, 0.05, 0.15, 0.05, 0.05])


def test_the_true_spread_is_what_was_asked_for_within_the_budget():
    """100 seeds, each with its own pilot; at most 4,000 rows a limit state, the pilot among them."""
    found, claimed, rows = [], [], []
    centres = design_points(ALPHAS, BETAS)
    for seed in range(100):
        space = planes(ALPHAS, BETAS)
        plan = allocate(pilot(space, centres=centres, systems=SYSTEMS, seed=seed), wanted=WANTED)
        tally = sample(
            space,
            centres=plan.centres,
            weights=plan.weights,
            systems=SYSTEMS,
            blocks=plan.blocks,
            rows_per_block=plan.rows_per_block,
            seed=seed,
            purpose="importance",
        )
        estimate = tally.estimate()
        found.append(estimate.failure_probability)
        claimed.append(estimate.coefficient_of_variation)
        rows.append(space.ledger.rows)
        assert not plan.capped
        assert np.all(plan.expected <= WANTED * 1.001)
    found, claimed = np.array(found), np.array(claimed)
    truth = found.std(axis=0, ddof=1) / found.mean(axis=0)
    # a spread from 100 seeds is known to 7 %
    assert np.all(truth < 1.15 * WANTED)
    assert np.all(np.sqrt((claimed**2).mean(axis=0)) < WANTED)
    assert np.all(np.abs(found[:, :8].mean(axis=0) / PROBABILITIES - 1.0) < 3.0 * truth[:8] / 10.0)
    assert max(rows) < 4000 * 8
    print(f"rows a limit state {np.mean(rows) / 8:,.0f}, spread {truth.round(4)}")


def test_one_margin_at_a_millionth_in_two_thousand_rows():
    beta = stats.norm.isf(1e-6)
    space = planes([[0.6, 0.8]], [beta])
    centres = design_points([[0.6, 0.8]], [beta])
    for seed in range(20):
        first = pilot(space, centres=centres, seed=seed)
        plan = allocate(first, wanted=wanted_errors(first))
        assert plan.rows + first.rows <= 2100
        assert plan.expected[0] <= 0.05


@pytest.mark.parametrize("curvature", [0.2, -0.05])
def test_curved_surfaces_too(curvature):
    """Away from the origin a tail has rows that do not fail; towards it, the plane cuts failing ones off."""
    space, exact, centres = paraboloid(4.75, curvature, 6)
    found, claimed, rows = [], [], []
    for seed in range(100):
        first = pilot(space, centres=centres, seed=seed)
        plan = allocate(first, wanted=wanted_errors(first))
        estimate = sample(
            space,
            centres=plan.centres,
            weights=plan.weights,
            blocks=plan.blocks,
            rows_per_block=plan.rows_per_block,
            seed=seed,
            purpose="importance",
        ).estimate()
        found.append(estimate.failure_probability[0])
        claimed.append(estimate.standard_error[0])
        rows.append(first.rows + plan.rows)
    assert np.mean(rows) < 8000
    truth = np.std(found, ddof=1)
    assert truth < 1.15 * 0.05 * exact
    assert abs(np.sqrt(np.mean(np.square(claimed))) / truth - 1.0) < 0.2
    assert abs(np.mean(found) - exact) < 3.0 * truth / 10.0


def test_the_weights_are_the_best_there_are():
    """Against scipy's SLSQP on the same convex problem: least t with need_e(w) <= t for all e."""
    first = pilot(planes(ALPHAS, BETAS), centres=design_points(ALPHAS, BETAS), systems=SYSTEMS, seed=4)
    ratios = np.exp(first.log_ratios)
    members = first.members.toarray()

    def needs(w):
        moments = members @ (1.0 / (w @ ratios)) / first.rows
        return (moments / first.probability**2 - 1.0) / WANTED**2

    def parted(x):
        # nominal, copies alone, copies with their tails in equal parts
        return np.concatenate((x[:1], x[1:9] + 0.5 * x[9:], 0.5 * x[9:]))

    ours = best_weights(first, WANTED)
    equal = np.concatenate(([0.1], np.full(16, 0.9 / 16)))
    floor = np.concatenate(([0.1], np.full(16, 0.4 * 0.9 / 16)))
    start = needs(parted(equal)).max()
    solved = optimize.minimize(
        lambda x: x[-1],
        np.append(equal, 1.0),
        method="SLSQP",
        bounds=[*((low, 1.0) for low in floor), (0.0, None)],
        constraints=[
            {"type": "eq", "fun": lambda x: x[:-1].sum() - 1.0},
            {"type": "ineq", "fun": lambda x: x[-1] - needs(parted(x[:-1])) / start},
        ],
        options={"maxiter": 200},
    )
    assert solved.success
    assert needs(ours).max() <= 1.01 * solved.x[-1] * start
    assert needs(ours).max() < 0.8 * start


def test_weights_are_shares_with_their_floors_in_whole_steps():
    first = pilot(planes(ALPHAS, BETAS), centres=design_points(ALPHAS, BETAS), seed=1)
    for wanted in (np.full(8, 0.05), np.array([0.01] + [np.inf] * 7), np.full(8, np.inf)):
        weights = best_weights(first, wanted)
        assert weights.sum() == pytest.approx(1.0, abs=1e-12)
        assert weights[0] >= 0.1
        copies, tails = weights[1:9], weights[9:]
        assert np.all(copies + tails >= 0.4 * 0.9 / 8 - 3e-5)
        assert np.all(tails <= copies)
        np.testing.assert_allclose(weights * 1e5, np.round(weights * 1e5), atol=1e-7)


def test_what_is_wanted_follows_the_contract():
    # the system is at 1e-2; a limit state below 1e-4 is less than 1 % of it
    p = np.array([1e-2, 1e-3, 1e-5, 1e-6, 1e-7, 3e-9, 1e-12])
    betas = stats.norm.isf(p)
    space = planes(np.eye(7), betas)
    first = pilot(
        space, centres=design_points(np.eye(7), betas), systems={"all": [(0, k) for k in range(7)]}, seed=1
    )
    assert wanted_errors(first).tolist() == [0.05, 0.05, 0.15, 0.15, 0.15, 0.15, np.inf, 0.05]
    targets = {(0, k): 1e-5 for k in range(7)}
    assert wanted_errors(first, targets=targets).tolist() == [0.05] * 5 + [0.15, np.inf, 0.05]
    # alone, a limit state is its own system
    alone = pilot(space, centres=design_points(np.eye(7), betas), seed=1)
    assert wanted_errors(alone).tolist() == [0.05] * 5 + [0.15, np.inf]


def test_always_never_and_mostly_failing_limit_states_ask_for_little():
    space = space_of(
        margins(
            lambda x: np.full(len(x), -1.0),
            lambda x: np.full(len(x), 1.0),
            lambda x: -1.0 - x[:, 0],
            lambda x: 4.0 - x[:, 1],
        ),
        2,
        labels=("always", "never", "mostly", "rare"),
    )
    rare = Centre(np.array([0.0, 4.0]), (0, 3), float(stats.norm.sf(4.0)))
    safe_side = Centre(np.array([-1.0, 0.0]), (0, 2), float(stats.norm.cdf(1.0)))
    first = pilot(space, centres=[safe_side, rare], seed=1, systems={"any": [(0, k) for k in range(4)]})
    # no centre on the safe side
    assert first.centres == (rare,)
    assert first.turned_names == ((0, 0), (0, 2), "any")
    assert first.probability[[0, 1, 4]].tolist() == [0.0, 0.0, 0.0]
    assert first.probability[2] == pytest.approx(stats.norm.sf(1.0), rel=0.3)
    wanted = wanted_errors(first)
    assert wanted.tolist() == [np.inf, np.inf, 0.05, 0.15, np.inf]
    plan = allocate(first, wanted=wanted)
    assert plan.rows < 6000
    tally = sample(
        space,
        centres=plan.centres,
        weights=plan.weights,
        turned=[name for name in plan.turned if name != "any"],
        blocks=plan.blocks,
        rows_per_block=plan.rows_per_block,
        seed=1,
        purpose="importance",
    )
    estimate = tally.estimate()
    assert estimate.failure_probability[:2].tolist() == [1.0, 0.0]
    assert estimate.standard_error[2] / estimate.failure_probability[2] < 0.05
    assert estimate.coefficient_of_variation[3] < 0.15


def test_rows_grow_linearly_with_the_number_of_limit_states():
    rows = []
    for count in (4, 8, 16):
        alphas, betas = equicorrelated(count, 0.3), np.full(count, stats.norm.isf(1e-5))
        first = pilot(planes(alphas, betas), centres=design_points(alphas, betas), seed=1)
        rows.append((first.rows + allocate(first, wanted=np.full(count, 0.05)).rows) / count)
    assert max(rows) < 4000
    assert rows[2] < 1.1 * rows[1] < 1.21 * rows[0]


def test_the_size_is_capped_floored_and_in_blocks_and_says_why():
    first = pilot(planes(ALPHAS, BETAS), centres=design_points(ALPHAS, BETAS), systems=SYSTEMS, seed=1)
    plan = allocate(first, wanted=WANTED / 2.0, cap_rows=5_000)
    assert plan.capped
    assert 5_000 <= plan.rows < 5_000 + plan.rows_per_block
    assert plan.blocks >= 12
    assert "the cap, where" in plan.reason
    assert np.any(plan.expected > WANTED / 2.0)
    large = allocate(first, wanted=WANTED / 10.0)
    assert large.rows_per_block == 8192
    assert "rows: " in large.reason
    assert "coefficient of variation of 0.5 %" in large.reason
    least = allocate(first, wanted=np.full(10, np.inf))
    assert 1024 <= least.rows < 1024 + least.rows_per_block
    assert least.reason.endswith(" rows, the least.")
    for wrong in (np.full(3, 0.05), np.zeros(10)):
        with pytest.raises(ValueError, match="one coefficient of variation above zero"):
            allocate(first, wanted=wrong)
    with pytest.raises(ValueError, match="least_rows <= cap_rows"):
        allocate(first, wanted=WANTED, least_rows=10, cap_rows=5)


def test_without_centres_the_pilot_is_plain():
    first = pilot(planes([[1.0]], [1.0]), centres=[], seed=1, rows_per_centre=4000)
    assert first.probability[0] == pytest.approx(stats.norm.sf(1.0), rel=0.1)
    plan = allocate(first, wanted=np.array([0.05]))
    assert plan.weights.tolist() == [1.0]
    # (1 - p)/(p cov^2), a tenth and a standard error more
    exact = (1.0 - stats.norm.sf(1.0)) / stats.norm.sf(1.0) / 0.05**2
    assert exact < plan.rows < 1.5 * exact


def test_nothing_that_fails_asks_for_nothing():
    space = space_of(margins(lambda x: np.full(len(x), 1.0)), 1)
    for centres in ([], [Centre(np.array([5.0]), (0, 0), 3e-7)]):
        first = pilot(space, centres=centres, seed=1)
        assert first.probability.tolist() == [0.0]
        wanted = wanted_errors(first)
        assert wanted.tolist() == [np.inf]
        plan = allocate(first, wanted=wanted)
        assert np.isnan(plan.expected[0])
        assert not plan.capped
        assert plan.weights.sum() == pytest.approx(1.0)


def test_a_pilot_of_very_many_centres_stays_small():
    alphas = random_directions(90, 60)
    betas = np.full(90, 4.0)
    first = pilot(planes(alphas, betas), centres=design_points(alphas, betas), seed=1)
    assert first.rows <= 32_768 + 90
    few = pilot(planes(alphas[:8], betas[:8]), centres=design_points(alphas[:8], betas[:8]), seed=1)
    assert few.rows == 9 * 512


def test_weights_from_a_part_of_the_pilot_need_hardly_more_rows(monkeypatch):
    alphas, betas = random_directions(24, 30), np.linspace(3.0, 5.0, 24)
    first = pilot(
        planes(alphas, betas),
        centres=design_points(alphas, betas),
        seed=1,
        rows_per_centre=1024,
        systems={"any": [(0, k) for k in range(24)]},
    )
    wanted = wanted_errors(first)
    assert first.log_ratios.shape[1] > allocation._ROWS_LOOKED_AT
    part = allocate(first, wanted=wanted)
    monkeypatch.setattr(allocation, "_ROWS_LOOKED_AT", 10**9)
    whole = allocate(first, wanted=wanted)
    assert part.weights.sum() == pytest.approx(1.0, abs=1e-12)
    assert not np.array_equal(part.weights, whole.weights)
    assert part.rows <= 1.15 * whole.rows
