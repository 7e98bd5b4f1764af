"""A union takes up the figure of the largest one within it: without bias, and never told below it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_normal, norm

from riskcut.reliability.assessment import Assessment, assess
from riskcut.reliability.finding import AIMED, Finding, completed
from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.plan import pilot
from riskcut.reliability.problem import Component, Problem, Response
from riskcut.reliability.views import views
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Normal


def staged(betas: list[float], rho: float) -> Problem:
    """Return equally correlated margins, each a stage of its own, and the union of them all."""

    def component(t: int) -> Component:
        def respond(x, which):
            margin = betas[t] + math.sqrt(rho) * x[:, 0] + math.sqrt(1.0 - rho) * x[:, t + 1]
            return Response(np.tile(margin[:, None], (1, len(which))))

        columns = tuple(range(len(betas) + 1))
        return Component(f"{t}", (f"stage {t}", "all"), columns, ("m",), (True,), respond, turn=t)

    joint = Joint([Normal(mean=0.0, sd=1.0)] * (len(betas) + 1))
    return Problem(joint, tuple(component(t) for t in range(len(betas))), {"all": True})


def found(problem: Problem, seed: int) -> Assessment:
    first = pilot(problem, seed=seed, blocks=1, bins=8)
    tally = simulate(problem, seed=seed, blocks=1, purpose="simulation", detail_blocks=1)
    return assess(problem, first, tally, seed=seed)


@pytest.mark.parametrize(("betas", "rho"), [([4.2, 3.2], 0.8), ([3.4, 3.1, 4.0], 0.6)])
def test_never_below_its_largest_stage_and_right_on_average(betas, rho):
    n = len(betas)
    correlation = rho + (1.0 - rho) * np.eye(n)
    exact = 1.0 - float(multivariate_normal(cov=correlation, abseps=1e-9).cdf(betas))
    errors, claimed, held = [], [], []
    for seed in range(30):
        assessment = found(staged(betas, rho), seed)
        whole = assessment.unions["all"]
        assert whole.method == AIMED
        assert not whole.doubt
        assert whole.probability >= max(assessment.unions[f"stage {t}"].probability for t in range(n))
        parts = assessment.first_failures.values()
        assert sum(part.probability for part in parts) == pytest.approx(whole.probability, rel=1e-9)
        errors.append(whole.probability / exact - 1.0)
        claimed.append(whole.standard_error / exact)
        held.append(whole.lower <= exact <= whole.upper)
    spread = np.std(errors)
    assert abs(np.mean(errors)) < 4.0 * spread / math.sqrt(len(errors))
    assert 0.7 < spread / np.sqrt(np.mean(np.square(claimed))) < 1.35
    assert np.mean(held) >= 0.8


def test_a_component_is_at_home_before_it_is_a_guest():
    met: set[int] = set()
    for view in views(staged([3.0, 3.0, 3.0], 0.5)):
        met |= view.at_home
        assert set(view.components) <= met


PART = Finding(1.0e-4, 0.9e-4, 1.1e-4, 5e-6, AIMED)
BEYOND = Finding(1e-5, 0.8e-5, 1.2e-5, 1e-6, AIMED)
WHOLE = Finding(1.02e-4, 0.92e-4, 1.13e-4, 5.5e-6, AIMED)


def test_what_its_own_sample_has_beyond_the_part_is_added():
    figure = completed(PART, BEYOND, WHOLE)
    assert figure.probability == pytest.approx(1.1e-4)
    assert figure.standard_error == pytest.approx(math.hypot(5e-6, 1e-6))
    assert (figure.upper - figure.probability) / (WHOLE.upper - WHOLE.probability) == pytest.approx(
        figure.standard_error / WHOLE.standard_error
    )
    assert not figure.doubt


def test_samples_that_do_not_agree_on_the_part_are_a_doubt():
    lost = completed(replace(PART, probability=2e-4), BEYOND, WHOLE)
    assert "0.0002" in lost.doubt
    assert replace(lost, doubt="") == WHOLE


@settings(deadline=None, max_examples=100)
@given(st.floats(1e-9, 0.4), st.floats(0.0, 0.4), st.floats(-2.0, 2.0), st.floats(1e-3, 0.1))
def test_a_whole_is_never_below_its_part(part, beyond, apart, variation):
    error = variation * (part + beyond)
    shape = float(norm.ppf(0.975)) * error
    p = part + beyond + apart * error
    if not beyond < p < 1.0 - shape:
        return
    whole = Finding(p, max(p - shape, 0.0), p + shape, error, AIMED)
    figure = completed(
        Finding(part, 0.0, 1.0, variation * part, AIMED),
        Finding(beyond, 0.0, 1.0, variation * beyond, AIMED),
        whole,
    )
    assert figure.probability >= part or figure.doubt
    assert figure.lower <= figure.probability <= figure.upper
