"""At which turn a union fails first: exact cases of independent, dependent and equally correlated margins."""

from __future__ import annotations

from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_normal, norm

from riskcut.reliability.assessment import Assessment, assess, counted
from riskcut.reliability.failure_events import Verdict, first_failures, verdict
from riskcut.reliability.finding import AIMED, PLAIN
from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.plan import pilot
from riskcut.reliability.problem import Component, Problem, Response
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import make


def linear(weights: np.ndarray, betas: list[float], turns: list[int] | None = None) -> Problem:
    """Return margins beta_t + w_t . u of standard normals, a component a turn, and their union."""
    stages, drivers = weights.shape

    def component(t: int) -> Component:
        def respond(x, which):
            return Response(np.asfortranarray(np.tile((betas[t] + x @ weights[t])[:, None], (1, len(which)))))

        return Component(
            name=f"stage {t}",
            unions=("all",),
            columns=tuple(range(drivers)),
            labels=("margin",),
            governing=(True,),
            respond=respond,
            turn=t if turns is None else turns[t],
        )

    joint = Joint([make("normal", mean=0.0, sd=1.0)] * drivers)
    return Problem(joint, tuple(component(t) for t in range(stages)), {"all": True})


def found(problem: Problem, *, plain: bool = False, blocks: int = 8) -> Assessment:
    first = pilot(problem, seed=3, blocks=2)
    tally = simulate(problem, seed=3, blocks=blocks, purpose="plain")
    return counted(problem, first, tally) if plain else assess(problem, first, tally, seed=3)


def parts(assessment: Assessment) -> list[tuple[float, float]]:
    return [(part.probability, part.standard_error) for part in assessment.first_failures.values()]


def exact(weights: np.ndarray, betas: list[float]) -> list[float]:
    """Return P(t fails and none before), from the multivariate normal distribution."""
    survived = [1.0]
    for t in range(1, len(betas) + 1):
        w = weights[:t]
        survived.append(
            float(multivariate_normal(cov=w @ w.T, allow_singular=True, abseps=1e-10).cdf(betas[:t]))
        )
    return [a - b for a, b in pairwise(survived)]


@pytest.mark.parametrize("plain", [False, True])
def test_independent_stages(plain):
    """Two stages of equal margins and independent heads: p and p (1 - p)."""
    p = norm.sf(1.8)
    one, other = parts(found(linear(np.eye(2), [1.8, 1.8]), plain=plain))
    assert abs(one[0] - p) < 4 * one[1]
    assert abs(other[0] - p * (1 - p)) < 4 * other[1]


def test_what_has_stood_the_same_once_stands_again():
    """The same draw and the same margin: it fails at the first turn or never."""
    one, other = parts(found(linear(np.ones((2, 1)), [3.6, 3.6])))
    assert abs(one[0] - norm.sf(3.6)) < 4 * one[1]
    assert other[0] == 0.0


def test_a_deeper_stage_fails_where_the_one_before_stood():
    one, other = parts(found(linear(np.ones((2, 1)), [4.0, 3.6])))
    assert abs(one[0] - norm.sf(4.0)) < 4 * one[1]
    assert abs(other[0] - (norm.sf(3.6) - norm.sf(4.0))) < 4 * other[1]


@pytest.mark.parametrize("betas", [[3.4, 3.1, 3.0], [2.0, 1.5, 2.5]])
def test_equally_correlated_margins(betas):
    weights = np.hstack([np.full((3, 1), np.sqrt(0.6)), np.sqrt(0.4) * np.eye(3)])
    assessment = found(linear(weights, betas))
    for (p, error), true in zip(parts(assessment), exact(weights, betas), strict=True):
        assert abs(p - true) < 4 * error
        assert error < 0.2 * true


@settings(deadline=None, max_examples=12)
@given(
    betas=st.lists(st.floats(1.0, 4.5), min_size=2, max_size=4),
    rho=st.floats(0.0, 0.95),
    plain=st.booleans(),
)
def test_the_parts_add_up_to_the_union_and_are_of_its_sample(betas, rho, plain):
    n = len(betas)
    weights = np.hstack([np.full((n, 1), np.sqrt(rho)), np.sqrt(1 - rho) * np.eye(n)])
    assessment = found(linear(weights, betas), plain=plain, blocks=2)
    whole = assessment.unions["all"]
    assert {part.method for part in assessment.first_failures.values()} == {whole.method}
    assert whole.method in (AIMED, PLAIN)
    total = sum(part.probability for part in assessment.first_failures.values())
    assert total == pytest.approx(whole.probability, rel=1e-9)


def test_the_order_is_that_of_the_turns_not_of_the_components():
    weights, betas = np.ones((2, 1)), [3.0, 3.5]
    assessment = found(linear(weights, betas, turns=[5, 2]))
    assert list(assessment.first_failures) == [("all", 2), ("all", 5)]
    (early, _), (late, _) = parts(assessment)
    assert early == pytest.approx(norm.sf(3.5), rel=0.3)
    assert late == pytest.approx(norm.sf(3.0) - norm.sf(3.5), rel=0.3)


def test_rows_without_an_answer_are_settled_where_they_can_be():
    """Row by row, against every answer that a row without one might have."""
    states = ((0, 0), (1, 0), (2, 0))
    rows = np.array(list(product([-1.0, 1.0, np.nan], repeat=3)))
    judged = {state: Verdict.of(rows[:, j]) for j, state in enumerate(states)}
    events = first_failures({t: [state] for t, state in enumerate(states)})
    for t, event in events.items():
        got = verdict(event, judged)
        for row, certain, possible in zip(rows, got.certain, got.possible, strict=True):
            could = {
                fails[t] and not any(fails[:t])
                for fails in product([False, True], repeat=3)
                if all(np.isnan(v) or (v < 0.0) == fail for v, fail in zip(row, fails, strict=True))
            }
            assert certain == (could == {True})
            assert possible == (True in could)
