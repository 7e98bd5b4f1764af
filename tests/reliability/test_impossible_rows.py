"""Rows whose geometry is impossible: counted, never called safe, and refused when there are many."""

from __future__ import annotations

import numpy as np
import pytest
from reliability_cases import STANDARD, component, single
from scipy import stats

from riskcut.reliability.monte_carlo import ImpossibleRows, simulate
from riskcut.reliability.problem import Problem, Response
from riskcut.uncertainty.joint import Joint


def crossing(share, *, safe=(5.0, 5.0)):
    """Margins beta - z, impossible in the second column's upper tail."""

    def respond(x, which):
        margin = np.stack([safe[k] - x[:, 0] for k in which]).T
        margin[x[:, 1] > stats.norm.isf(share), 0] = np.nan
        return Response(margin=margin, ratio=np.exp(margin))

    return respond


def test_the_upper_bound_counts_them():
    one = simulate(
        single(crossing(0.005, safe=(3.0, 2.0)), 2, labels=("a", "b")), seed=1, blocks=8, purpose="a"
    )
    one = one.components["one"]
    n, k, i = one.rows, int(one.failures[0]), int(one.impossible[0])
    assert 0 < i <= 0.01 * n
    assert one.impossible[1] == 0
    assert one.impossible_rows == i
    result = one.estimate()
    assert result.failure_probability[0] == k / (n - i)
    assert result.bounds[0, 0] == pytest.approx(stats.beta.ppf(0.025, k, n - k + 1))
    assert result.bounds[0, 1] == pytest.approx(stats.beta.ppf(0.975, k + i + 1, n - k - i))
    # in the system a row that fails by the other limit state has failed, impossible or not
    assert one.system.failures >= one.failures[1]
    assert 0 < one.system.impossible < i
    assert float(one.system.estimate().bounds[1]) >= float(one.estimate().bounds[1, 1])
    assert one.ratio_counts[0].sum() == n - i
    assert one.ratio_counts[1].sum() == n


def test_nothing_failed_but_some_impossible_is_not_a_zero_count():
    one = simulate(
        single(crossing(0.002, safe=(50.0, 50.0)), 2, labels=("a", "b")), seed=1, blocks=4, purpose="a"
    )
    one = one.components["one"]
    assert one.failures.tolist() == [0, 0]
    bounds = one.estimate().bounds
    assert bounds[0, 0] == 0.0
    assert bounds[0, 1] > one.impossible[0] / one.rows > bounds[1, 1]


def test_a_limit_state_that_does_not_govern_leaves_the_system_alone():
    problem = single(crossing(0.005), 2, labels=("a", "b"), governing=(False, True))
    one = simulate(problem, seed=1, blocks=4, purpose="a").components["one"]
    assert one.impossible[0] > 0
    assert one.system.impossible == 0


@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.parametrize("chunk_blocks", [1, 5])
def test_more_than_one_per_cent_is_refused(chunk_blocks, workers):
    problem = Problem(
        Joint([STANDARD] * 2),
        (
            component("fine", crossing(0.001), columns=(0, 1), labels=("a", "b")),
            component("crossed", crossing(0.05), columns=(0, 1), labels=("a", "b"), governing=(False, True)),
        ),
    )
    with pytest.raises(ImpossibleRows) as caught:
        simulate(problem, seed=1, blocks=20, purpose="a", chunk_blocks=chunk_blocks, workers=workers)
    refusal = caught.value
    assert refusal.component == "crossed"
    # certain after some 4 of the 20 blocks: 1 % of all rows
    assert refusal.rows in (4 * 8192, 5 * 8192)
    assert refusal.count > 0.01 * 20 * 8192
    assert refusal.count == pytest.approx(0.05 * refusal.rows, rel=0.1)
    assert f"crossed: {refusal.count:,} of {refusal.rows:,} rows" in str(refusal)
    assert "at most 1 % may" in str(refusal)


def test_a_share_just_below_one_per_cent_passes_and_all_impossible_does_not():
    respond = crossing(0.009)
    assert simulate(single(respond, 2, labels=("a", "b")), seed=1, blocks=20, purpose="a").rows == 20 * 8192

    def never(x, _which):
        return Response(margin=np.full((len(x), 1), np.nan), ratio=np.full((len(x), 1), np.nan))

    with pytest.raises(ImpossibleRows) as caught:
        simulate(single(never), seed=1, blocks=2, purpose="a")
    assert (caught.value.count, caught.value.rows) == (8192, 8192)
