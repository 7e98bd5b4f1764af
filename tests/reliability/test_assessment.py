"""The whole engine on problems whose every probability is known exactly."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import ndtr

from riskcut.reliability.assessment import Assessment, assess
from riskcut.reliability.finding import (
    AIMED,
    CONSTANT,
    FIRST_ORDER,
    PLAIN,
    SECOND_ORDER,
    Finding,
    Kind,
    better,
)
from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.plan import pilot
from riskcut.reliability.problem import Component, Problem, Response
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Normal

BETAS = (1.2, 3.0, 4.2, 5.3, 7.0)


def linear(
    name: str, columns: tuple[int, ...], betas: tuple[float, ...], unions: tuple[str, ...]
) -> Component:
    """Return margins beta - (x_0 + ... ) / sqrt(n), all of one direction."""

    def respond(x, which):
        along = x.sum(axis=1) / math.sqrt(len(columns))
        return Response(np.stack([betas[k] - along for k in which], axis=1))

    labels = tuple(f"beta {beta:g}" for beta in betas)
    return Component(name, unions, columns, labels, (True,) * len(betas), respond)


def problem_of(*components: Component, columns: int) -> Problem:
    return Problem(Joint([Normal(mean=0.0, sd=1.0)] * columns), components)


def assessed(problem: Problem, *, seed: int = 1, workers: int = 1, blocks: int = 8, **how) -> Assessment:
    first = pilot(problem, seed=seed, blocks=2, bins=8)
    tally = simulate(problem, seed=seed, blocks=blocks, purpose="simulation", detail_blocks=1)
    return assess(problem, first, tally, seed=seed, workers=workers, **how)


def within(figure: Finding, exact: float, errors: float = 4.0) -> bool:
    return abs(figure.probability - exact) <= errors * figure.standard_error


def test_from_one_in_ten_to_one_in_a_billion_and_their_unions():
    # Two groups of margins that share nothing: each union has its own exact probability.
    problem = problem_of(
        linear("a", (0, 1, 2), BETAS, ("a", "both")),
        linear("b", (3, 4), (3.2, 4.6), ("b", "both")),
        columns=5,
    )
    found = assessed(problem, targets={"a": 1e-3})
    methods = []
    for k, beta in enumerate(BETAS):
        figure = found.states[0, k]
        methods.append(figure.method)
        if beta < 6:
            assert within(figure, float(ndtr(-beta))), beta
            assert figure.lower < figure.probability < figure.upper
            assert figure.standard_error <= 0.06 * figure.probability or beta > 5
        assert not figure.doubt
    assert methods[0] == PLAIN
    assert methods[2] == methods[3] == AIMED
    assert methods[4] in (FIRST_ORDER, SECOND_ORDER)
    assert found.states[0, 4].probability == pytest.approx(float(ndtr(-7.0)), rel=1e-3)
    assert found.states[0, 4].kind is Kind.FIRST_ORDER
    a, b = float(ndtr(-1.2)), float(ndtr(-3.2))
    assert within(found.unions["a"], a)
    assert within(found.unions["b"], b)
    assert within(found.unions["both"], 1.0 - (1.0 - a) * (1.0 - b))


def test_equally_correlated_margins():
    # Margins beta - (sqrt(r) x_0 + sqrt(1 - r) x_k): the union by one integral over the part they share.
    rho, beta, count = 0.5, 3.9, 6

    def respond(x, which):
        shared = math.sqrt(rho) * x[:, :1]
        return Response(beta - shared - math.sqrt(1.0 - rho) * x[:, [k + 1 for k in which]])

    labels = tuple(str(k) for k in range(count))
    one = Component("one", ("all",), tuple(range(count + 1)), labels, (True,) * count, respond)
    found = assessed(problem_of(one, columns=count + 1))

    def given(shared: float) -> float:
        p = ndtr(-(beta - math.sqrt(rho) * shared) / math.sqrt(1.0 - rho))
        return float(-np.expm1(count * np.log1p(-p)) * np.exp(-0.5 * shared**2) / math.sqrt(2.0 * math.pi))

    exact = quad(given, -10.0, 10.0, epsabs=1e-14, epsrel=1e-10)[0]
    assert within(found.unions["all"], exact)
    assert found.unions["all"].standard_error < 0.06 * exact
    assert all(within(found.states[0, k], float(ndtr(-beta))) for k in range(count))


def test_a_mode_behind_a_step_is_found():
    # Seen from the origin the margin is 5 - x_0; where x_1 exceeds 2.2 it steps down by 2.2.
    def respond(x, which):
        margin = np.where(x[:, 1] > 2.2, 2.8, 5.0) - x[:, 0]
        return Response(np.stack([margin] * len(which), axis=1))

    one = Component("one", ("one",), (0, 1, 2), ("step",), (True,), respond)
    found = assessed(problem_of(one, columns=3))
    exact = float(ndtr(-2.2) * ndtr(-2.8) + ndtr(2.2) * ndtr(-5.0))
    assert exact > 100 * float(ndtr(-5.0))
    figure = found.states[0, 0]
    assert within(figure, exact)
    assert figure.standard_error < 0.1 * exact
    assert not figure.doubt
    assert len(found.searches[0, 0].points) > 1


def test_a_bend_that_has_no_design_point_of_its_own_is_sampled_about():
    # The nearest place of the second plane, (4.25, 0), fails by the first already: one design point, two planes.
    rise = math.sqrt(1.0 - 0.95**2)

    def respond(x, which):
        first = 4.0 - (0.95 * x[:, 0] + rise * x[:, 1])
        second = 4.25 - x[:, 0]
        return Response(np.stack([np.minimum(first, second)] * len(which), axis=1))

    one = Component("one", ("one",), (0, 1), ("bend",), (True,), respond)
    problem = problem_of(one, columns=2)
    exact = quad(
        lambda x: math.exp(-0.5 * x * x) / math.sqrt(2 * math.pi) * float(ndtr(-(4.0 - 0.95 * x) / rise)),
        -9.0,
        4.25,
        epsabs=1e-15,
    )[0] + float(ndtr(-4.25))
    for seed in range(5):
        figure = assessed(problem, seed=seed, blocks=2).states[0, 0]
        assert within(figure, exact)
        assert not figure.doubt


def test_margins_that_never_always_or_hardly_vary():
    def respond(x, which):
        every = np.stack(
            [np.full(len(x), 3.0), np.full(len(x), -1.0), 60.0 - x[:, 0], -60.0 + x[:, 0]], axis=1
        )
        return Response(every[:, list(which)])

    labels = ("cannot", "certain", "never seen", "all but certain")
    one = Component("one", ("one",), (0,), labels, (True, False, True, False), respond)
    found = assessed(problem_of(one, columns=1), blocks=2)
    cannot, certain, never, always = (found.states[0, k] for k in range(4))
    assert (cannot.kind, cannot.probability, cannot.method) == (Kind.CERTAIN, 0.0, CONSTANT)
    assert (certain.kind, certain.probability) == (Kind.CERTAIN, 1.0)
    assert (never.kind, never.probability, never.method) == (Kind.SAMPLED, 0.0, PLAIN)
    assert never.upper > 1e-5  # no method has a number for it: only the bound of simulation
    assert always.probability == 1.0
    assert always.lower > 0.999
    assert found.unions["one"].probability < 1e-9


def test_impossible_rows_are_never_called_safe():
    def respond(x, which):
        margin = np.where(x[:, 1] > 3.5, np.nan, 4.0 - x[:, 0])
        return Response(np.stack([margin] * len(which), axis=1))

    one = Component("one", ("one",), (0, 1), ("some",), (True,), respond)
    figure = assessed(problem_of(one, columns=2)).states[0, 0]
    assert figure.upper >= 0.7 * float(ndtr(-3.5))
    assert figure.lower <= float(ndtr(-4.0)) * 1.2


def test_more_likely_than_not():
    found = assessed(problem_of(linear("a", (0, 1), (-2.5, -0.3), ("a",)), columns=2), blocks=4)
    assert within(found.states[0, 0], float(ndtr(2.5)))
    assert within(found.states[0, 1], float(ndtr(0.3)))


def test_the_same_bits_on_any_number_of_threads():
    problem = problem_of(
        linear("a", (0, 1, 2), (3.0, 4.2), ("a", "both")),
        linear("b", (2, 3), (3.6,), ("b", "both")),
        columns=4,
    )
    one, three = assessed(problem, blocks=2), assessed(problem, blocks=2, workers=3)
    assert one.states == three.states
    assert one.unions == three.unions
    assert one.ledger == three.ledger
    assert assessed(problem, blocks=2, seed=2).states != one.states


def test_the_error_is_what_was_wanted():
    exact = float(ndtr(-4.0))
    problem = problem_of(linear("a", (0, 1, 2), (4.0,), ("a",)), columns=3)
    for wanted in (0.05, 0.01):
        figures = [
            assessed(problem, seed=seed, blocks=2, coefficient_of_variation=wanted).states[0, 0]
            for seed in range(30)
        ]
        errors = np.array([figure.probability / exact - 1.0 for figure in figures])
        assert abs(errors.mean()) < 4.0 * errors.std() / math.sqrt(len(errors))
        # 30 runs know their own spread to some 13 %.
        assert errors.std() < 1.35 * wanted
        assert np.mean([figure.lower <= exact <= figure.upper for figure in figures]) >= 0.8


PLAINLY = Finding(5e-3, 4e-3, 6e-3, 5e-4, PLAIN)
AIMEDLY = Finding(1e-5, 0.9e-5, 1.1e-5, 5e-7, AIMED)


def test_a_plain_simulation_that_contradicts_an_aimed_sample_takes_its_place():
    # 50 of 10,000 rows failed where the aimed sample says one in a hundred thousand.
    figure = better(AIMEDLY, PLAINLY, 50, 10_000)
    assert replace(figure, note="") == PLAINLY
    assert "50 of 10,000 rows" in figure.note


def test_a_doubt_without_enough_plain_failures_is_told():
    few = Finding(4e-4, 1e-4, 1e-3, 2e-4, PLAIN)
    figure = better(AIMEDLY, few, 4, 10_000)
    assert "4 of 10,000 rows" in figure.doubt
    assert (figure.lower, figure.upper) == (0.9e-5, 1e-3)
    none_failed = Finding(0.0, 0.0, 3e-4, 0.0, PLAIN)
    doubtful = replace(AIMEDLY, doubt="One row is all of it.")
    assert better(doubtful, none_failed, 0, 10_000).doubt == "One row is all of it."


def test_two_methods_that_agree_leave_the_aimed_figure():
    assert better(AIMEDLY, Finding(0.0, 0.0, 3e-4, 0.0, PLAIN), 0, 10_000) == AIMEDLY


def test_a_doubt_about_what_is_too_rare_gives_way_to_the_design_point(monkeypatch):
    problem = problem_of(
        linear("a", (0, 1), (6.3,), ("a", "both")), linear("b", (2,), (6.4,), ("b", "both")), columns=3
    )
    a, b = float(ndtr(-6.3)), float(ndtr(-6.4))
    sampled = assessed(problem, blocks=2)
    assert sampled.unions["both"].method == AIMED
    assert within(sampled.unions["both"], a + b)
    monkeypatch.setattr(
        "riskcut.reliability.view_figures.better",
        lambda aimed, *_: replace(aimed, doubt="One row is all of it."),
    )
    doubted = assessed(problem, blocks=2)
    for finding, exact in (
        (doubted.states[0, 0], a),
        (doubted.states[1, 0], b),
        (doubted.unions["both"], a + b),
    ):
        assert finding.kind is Kind.FIRST_ORDER
        assert not finding.doubt
        assert finding.probability == pytest.approx(exact, rel=1e-3)
