"""Simulation of problems with an exact or published failure probability.

The exact value has to lie in the 99.99 % interval of the counts; seeds are 1, 2, ..., none chosen.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from reliability_cases import STANDARD, agrees, beyond, component, margins, single
from scipy import stats

from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.problem import Problem, Response
from riskcut.reliability.system import independent_union
from riskcut.uncertainty.joint import Joint, normal_correlation
from riskcut.uncertainty.marginals import Gumbel, Lognormal, Normal, Uniform


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_linear_margin_of_normals(seed):
    # R - S with R N(120, 15), S N(70, 20), correlated 0.4
    rho, r, s = 0.4, Normal(mean=120.0, sd=15.0), Normal(mean=70.0, sd=20.0)
    problem = Problem(
        Joint([r, s], correlation=np.array([[1.0, rho], [rho, 1.0]])),
        (component("one", margins(lambda x: x[:, 0] - x[:, 1]), columns=(0, 1)),),
    )
    beta = 50.0 / math.sqrt(15.0**2 + 20.0**2 - 2 * rho * 15.0 * 20.0)
    one = simulate(problem, seed=seed, blocks=16, purpose="figures").components["one"]
    assert agrees(one.failures[0], one.rows, stats.norm.sf(beta))
    assert one.margin_mean[0] == pytest.approx(50.0, abs=5 * 19.6 / math.sqrt(one.rows))
    assert one.margin_sd[0] == pytest.approx(math.sqrt(385.0), rel=5 / math.sqrt(2 * one.rows))


def test_several_limit_states_of_one_score():
    betas = [-6.0, -1.0, 0.0, 1.0, 2.0, 3.0, 6.0]
    problem = single(beyond(*betas), labels=[f"b{k}" for k in range(7)], governing=[False] * 3 + [True] * 4)
    tally = simulate(problem, seed=1, blocks=16, purpose="figures")
    one = tally.components["one"]
    for failures, beta in zip(one.failures, betas, strict=True):
        assert agrees(failures, one.rows, stats.norm.sf(beta))
    # nested events: the union is the likeliest governing one, exactly
    assert one.system.failures == one.failures[3]
    assert one.system.limit_states == 4
    # everything failing and nothing failing
    assert one.failures[0] == one.rows
    assert one.failures[-1] == 0
    result = one.estimate()
    assert result.bounds[0].tolist() == [pytest.approx(0.05 ** (1 / one.rows)), 1.0]
    assert result.bounds[-1].tolist() == [0.0, pytest.approx(1 - 0.05 ** (1 / one.rows))]
    assert tally.margin_evaluations == 7 * 16 * 8192


@pytest.mark.parametrize(
    ("factor", "variation", "percent"), [(1.5, 0.2, 2.57), (1.5, 0.3, 10.9), (2.0, 0.2, 0.0336)]
)
def test_lognormal_factor_of_safety(factor, variation, percent):
    # Duncan (2000), J. Geotech. Geoenviron. Eng. 126(4), 307-316: printed to three figures
    fs = Lognormal(mean=factor, sd=factor * variation)

    def respond(x, _which):
        return Response(margin=x - 1.0, ratio=x)

    problem = Problem(Joint([fs]), (component("one", respond, columns=(0,)),))
    one = simulate(problem, seed=1, blocks=32, purpose="figures").components["one"]
    beta = math.log(factor / math.sqrt(1 + variation**2)) / math.sqrt(math.log(1 + variation**2))
    assert f"{100 * stats.norm.sf(beta):.3g}" == f"{percent:.3g}"
    assert agrees(one.failures[0], one.rows, stats.norm.sf(beta))
    p = np.array([0.05, 0.5, 0.95])
    exact = (
        factor
        / math.sqrt(1 + variation**2)
        * np.exp(math.sqrt(math.log(1 + variation**2)) * stats.norm.ppf(p))
    )
    np.testing.assert_allclose(one.ratio_quantiles(p)[0], exact, rtol=0.005)


def test_resistance_with_a_fixed_part():
    # R = 150 + 3 su, S = 200, su lognormal with median 25 and log-sd 0.25: su* = 50/3, Phi(ln(2/3)/0.25)
    median, zeta = 25.0, 0.25
    mean = median * math.exp(zeta**2 / 2)
    su = Lognormal(mean=mean, sd=mean * math.sqrt(math.expm1(zeta**2)))
    problem = Problem(
        Joint([su]), (component("one", margins(lambda x: 150.0 + 3.0 * x[:, 0] - 200.0), columns=(0,)),)
    )
    exact = stats.norm.cdf(math.log(50.0 / 3.0 / 25.0) / 0.25)
    assert exact == pytest.approx(0.0524, abs=5e-5)
    one = simulate(problem, seed=1, blocks=32, purpose="figures").components["one"]
    assert agrees(one.failures[0], one.rows, exact)


def stages(shared: bool) -> Problem:
    """Two stages under a yearly highest head, R 2.0 against the head: one head for both, or one each."""
    head = Gumbel(mean=1.1, sd=0.35)
    respond = margins(lambda x: 2.0 - x[:, 0])
    return Problem(
        Joint([head, head], driver=[0, 0] if shared else [0, 1]),
        (component("dig 1", respond, columns=(0,)), component("dig 2", respond, columns=(1,))),
    )


def test_two_stages_with_independent_heads():
    p = float(
        stats.gumbel_r.sf(
            2.0, loc=1.1 - 0.5772156649 * 0.35 * math.sqrt(6) / math.pi, scale=0.35 * math.sqrt(6) / math.pi
        )
    )
    tally = simulate(stages(shared=False), seed=1, blocks=32, purpose="figures")
    for name in ("dig 1", "dig 2"):
        assert agrees(tally.components[name].failures[0], tally.rows, p)
    assert agrees(tally.unions["section"].failures, tally.rows, 1 - (1 - p) * (1 - p))
    assert not agrees(tally.unions["section"].failures, tally.rows, p)
    assert float(independent_union([p, p])) == pytest.approx(1 - (1 - p) ** 2, rel=1e-14)
    assert tally.unions["whole"].failures == tally.unions["section"].failures


def test_two_stages_under_one_head():
    tally = simulate(stages(shared=True), seed=1, blocks=8, purpose="figures")
    first, second = tally.components["dig 1"], tally.components["dig 2"]
    assert first.failures[0] == second.failures[0] == tally.unions["section"].failures


def test_groups_and_overall_against_the_multivariate_normal():
    # three stages in two sections, scores correlated 0.6 throughout: P(any) from the orthant probability
    betas, rho = [1.5, 1.8, 2.0], 0.6
    matrix = np.full((3, 3), rho)
    np.fill_diagonal(matrix, 1.0)
    problem = Problem(
        Joint([STANDARD] * 3, correlation=matrix),
        tuple(
            component(f"c{k}", beyond(beta), columns=(k,), group="west" if k < 2 else "east")
            for k, beta in enumerate(betas)
        ),
    )
    tally = simulate(problem, seed=1, blocks=32, purpose="figures")

    def any_of(places):
        return 1 - stats.multivariate_normal.cdf(
            [betas[k] for k in places], cov=matrix[np.ix_(places, places)], abseps=1e-8, releps=1e-8
        )

    assert list(tally.unions) == ["west", "whole", "east"]
    assert agrees(tally.unions["west"].failures, tally.rows, any_of([0, 1]))
    assert agrees(tally.unions["east"].failures, tally.rows, stats.norm.sf(2.0))
    assert agrees(tally.unions["whole"].failures, tally.rows, any_of([0, 1, 2]))
    assert tally.unions["whole"].limit_states == 3


class Exponential:
    """A marginal from outside the package: what the joint asks of one is the protocol alone."""

    kind = "exponential"

    def __init__(self, mean: float) -> None:
        self.mean = self.sd = mean

    def from_normal(self, z, out=None):
        x = -self.mean * np.log(stats.norm.sf(z))
        if out is None:
            return x
        out[...] = x
        return out


def test_published_uniform_and_exponential():
    # Liu, Lin & Der Kiureghian (1989), UCB/SEMM-89/18, Example 1: exact Pf 0.198652
    problem = Problem(
        Joint([Uniform(low=0.0, high=100.0), Exponential(20.0)]),
        (component("one", margins(lambda x: x[:, 0] - x[:, 1]), columns=(0, 1)),),
    )
    one = simulate(problem, seed=1, blocks=16, purpose="figures").components["one"]
    assert (1 - math.exp(-5)) * 20 / 100 == pytest.approx(0.198652, abs=5e-7)
    assert agrees(one.failures[0], one.rows, (1 - math.exp(-5)) * 20 / 100)


def test_published_correlated_lognormals_and_uniform():
    # the same report, Example 2: Monte Carlo 0.0342 (printed to three figures)
    half = 0.5 * math.sqrt(3.0)
    marginals = [
        Lognormal(mean=500, sd=100),
        Lognormal(mean=2000, sd=400),
        Uniform(low=5 - half, high=5 + half),
    ]
    matrix = np.eye(3)
    for i, j, rho in ((0, 1, 0.3), (0, 2, 0.2), (1, 2, 0.2)):
        matrix[i, j] = matrix[j, i] = normal_correlation(marginals[i], marginals[j], rho)

    def g(x):
        return 1 - x[:, 1] / (1000 * x[:, 2]) - (x[:, 0] / (200 * x[:, 2])) ** 2

    problem = Problem(
        Joint(marginals, correlation=matrix), (component("one", margins(g), columns=(0, 1, 2)),)
    )
    one = simulate(problem, seed=1, blocks=32, purpose="figures").components["one"]
    assert one.failures[0] / one.rows == pytest.approx(0.0342, abs=0.00005 + 4 * math.sqrt(0.0342 / one.rows))


@pytest.mark.parametrize(("p", "blocks"), [(0.01, 1), (0.001, 3)])
def test_coverage_and_spread_of_the_interval_over_fixed_seeds(p, blocks):
    """Seeds 0 to 1,999, some 82 and 25 failures each; against the exact coverage, by enumeration."""
    rows, repeats = blocks * 8192, 2000
    problem = single(beyond(stats.norm.isf(p)))
    counts = np.array(
        [
            simulate(problem, seed=seed, blocks=blocks, purpose="coverage", detail_blocks=0)
            .components["one"]
            .failures[0]
            for seed in range(repeats)
        ]
    )
    k = np.arange(400)
    every = np.array([agrees(count, rows, p, 0.95) for count in k])
    exact = float(stats.binom.pmf(k, rows, p)[every].sum())
    covered = int(every[counts].sum())
    band = stats.binomtest(covered, repeats).proportion_ci(0.9999, method="exact")
    claimed = math.sqrt((1 - p) / (rows * p))
    true = float(counts.std() / counts.mean())
    print(f"coverage {covered / repeats:.4f} ({band.low:.4f} to {band.high:.4f}), exact {exact:.4f}")
    print(f"claimed spread {claimed:.4f}, true {true:.4f}; mean {counts.mean() / rows:.6f}")
    assert band.low <= exact <= band.high
    assert 0.93 <= covered / repeats <= 0.985
    assert true == pytest.approx(claimed, rel=4 / math.sqrt(2 * repeats))
    assert counts.mean() / rows == pytest.approx(p, rel=4 * claimed / math.sqrt(repeats))
