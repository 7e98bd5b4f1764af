"""Failure all round among many inputs, where nearly all points lie far out and no single place says how rare it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr
from scipy.stats import chi2, ncx2

from riskcut.reliability.another_method import another
from riskcut.reliability.answer import Failing
from riskcut.reliability.assessment import Assessment, assess
from riskcut.reliability.finding import AIMED, FIRST_ORDER, PLAIN, SECOND_ORDER, Finding, Kind, held, settled
from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.plan import pilot
from riskcut.reliability.problem import Component, Problem, Response
from riskcut.reliability.standard_space import StandardSpace
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Normal

Margin = Callable[[np.ndarray], np.ndarray]
SUBSET = "subset simulation"


def of(*parts: tuple[Margin, tuple[int, ...]]) -> Problem:
    """Return a component a margin, of its own columns; all of them make the union "all"."""

    def component(t: int) -> Component:
        margin, columns = parts[t]

        def respond(x, which):
            return Response(np.tile(margin(x)[:, None], (1, len(which))))

        return Component(f"part {t}", ("all",), columns, ("m",), (True,), respond)

    inputs = 1 + max(column for _, columns in parts for column in columns)
    joint = Joint([Normal(mean=0.0, sd=1.0)] * inputs)
    return Problem(joint, tuple(component(t) for t in range(len(parts))))


def found(problem: Problem, *, seed: int = 1) -> Assessment:
    first = pilot(problem, seed=seed, blocks=2, bins=8)
    tally = simulate(problem, seed=seed, blocks=2, purpose="simulation", detail_blocks=1)
    return assess(problem, first, tally, seed=seed)


def all_round(probability: float, inputs: int) -> Margin:
    square = chi2.isf(probability, inputs)
    return lambda x: square - (x * x).sum(axis=1)


def around(probability: float, inputs: int, away: float) -> Margin:
    """Outside a sphere about another place than the medians: one nearest point, hardly nearer than the others."""
    radius = np.sqrt(ncx2.isf(probability, inputs, away * away))

    def margin(x):
        square = (x[:, 0] + away) ** 2 + (x[:, 1:] ** 2).sum(axis=1)
        return radius - np.sqrt(square)

    return margin


def linear(index: float, inputs: int) -> Margin:
    return lambda x: index - x.sum(axis=1) / np.sqrt(inputs)


CASES = {
    "100 inputs, 1e-4": (all_round(1e-4, 100), 100, 1e-4),
    "100 inputs, 1e-6": (all_round(1e-6, 100), 100, 1e-6),
    "10 inputs, 1e-6": (all_round(1e-6, 10), 10, 1e-6),
    "30 inputs, off the middle, 1e-6": (around(1e-6, 30, 2.0), 30, 1e-6),
}


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("name", list(CASES))
def test_failure_all_round_is_found_though_simulation_never_saw_it(name, seed):
    margin, inputs, exact = CASES[name]
    assessment = found(of((margin, tuple(range(inputs)))), seed=seed)
    for figure in (assessment.states[0, 0], assessment.unions["all"]):
        assert figure.method == SUBSET
        assert figure.note.startswith(f"Subset simulation: {inputs} inputs, no single place of failure")
        assert figure.kind is Kind.SAMPLED
        assert not figure.doubt
        assert abs(figure.probability - exact) <= 4.0 * figure.standard_error
        assert figure.standard_error < 0.3 * exact
        assert figure.lower < exact < 1.5 * figure.upper


@pytest.mark.parametrize("index", [3.5, 4.75, 8.0])
def test_a_linear_margin_of_many_inputs_is_not_sent_there(index):
    figure = found(of((linear(index, 100), tuple(range(100))))).states[0, 0]
    exact = float(ndtr(-index))
    if index < 6.0:
        assert figure.method == AIMED
        assert abs(figure.probability - exact) <= 4.0 * figure.standard_error
    else:
        assert figure.method in (FIRST_ORDER, SECOND_ORDER)
        assert figure.probability == pytest.approx(exact, rel=1e-3)
    assert not figure.doubt


def test_what_never_fails_has_a_bound_and_no_doubt():
    figure = found(of((lambda x: 2.0 + np.sin(x.sum(axis=1)), tuple(range(100))))).states[0, 0]
    assert (figure.probability, figure.method, figure.doubt) == (0.0, PLAIN, "")
    assert figure.upper > 0.0


def test_a_union_is_not_told_without_a_part_that_its_sample_never_met():
    """A linear margin that the union's sample knows well, and one all round that it has nothing of."""
    rare, likely = float(ndtr(-4.9)), 1e-5
    problem = of((linear(4.9, 1), (0,)), (all_round(likely, 80), tuple(range(1, 81))))
    assessment = found(problem)
    assert assessment.states[0, 0].method == AIMED
    assert assessment.states[1, 0].method == SUBSET
    whole = assessment.unions["all"]
    assert not whole.doubt
    assert "Its sample has 0 of a limit state" in whole.note
    assert abs(whole.probability - (rare + likely)) <= 4.0 * whole.standard_error
    assert whole.probability > 0.5 * likely


def test_rows_are_counted_and_the_seed_alone_tells_the_figures():
    called = 0

    def margin(x):
        nonlocal called
        called += len(x)
        return all_round(1e-6, 100)(x)

    problem = of((margin, tuple(range(100))))
    first = pilot(problem, seed=1, blocks=1, bins=8)
    tally = simulate(problem, seed=1, blocks=1, purpose="simulation", detail_blocks=1)
    called = 0
    one = assess(problem, first, tally, seed=1, cap_rows=20_000)
    spent = called
    assert one.ledger.rows == spent
    assert one.states == assess(problem, first, tally, seed=1, cap_rows=20_000, workers=2).states
    assert one.states != assess(problem, first, tally, seed=2, cap_rows=20_000).states
    # Ten replicates and a pilot of at least 1,000 rows a level, seven levels; and the looking for design points.
    assert spent < 11 * 7 * 1_000 + 5_000


def test_a_union_is_scaled_whatever_the_units_and_fails_where_it_did():
    """Two margins among many inputs, the second in units that make it a thousand times as large."""
    known, far, columns = linear(3.5, 30), all_round(1e-4, 30), tuple(range(30))
    exact = float(ndtr(-3.5)) + 1e-4
    figures = []
    for unit in (1.0, 1024.0):
        parts = ((known, columns), (lambda x, unit=unit: unit * far(x), columns))
        union = Failing.of_union(StandardSpace(of(*parts)))
        scaled = union.scaled(1)
        rows = 3.0 * np.random.default_rng(5).standard_normal((2000, 30))
        assert np.array_equal(scaled.margins(rows) < 0.0, union.margins(rows) < 0.0)
        figures.append(another(scaled, direction=None, seed=1, coefficient_of_variation=0.1, cap_rows=60_000))
    assert figures[0] == figures[1]
    # The two hardly ever fail together: no more often than the rarer one, and far less.
    assert abs(figures[0].probability - exact) <= 4.0 * figures[0].standard_error + 0.02 * exact


RARE = Finding(1e-14, 0.0, 1e-4, 0.0, FIRST_ORDER, Kind.FIRST_ORDER)
OTHER = Finding(1e-6, 8e-7, 1.2e-6, 1e-7, SUBSET, note="Subset simulation: why.")


def test_a_union_that_lacks_a_part_is_in_doubt_and_no_less_likely_than_that():
    union = Finding(1e-7, 9e-8, 1.1e-7, 5e-9, AIMED)
    raised = held(union, OTHER, 0.0, 0.05)
    assert raised.probability == OTHER.probability
    assert raised.lower <= union.lower
    assert raised.upper >= OTHER.upper
    assert "has 0 of a limit state that fails with 1e-06" in raised.doubt
    assert (
        held(replace(union, probability=1e-3), OTHER, 0.0, 0.05).doubt == ""
    )  # what it lacks is nothing to it
    assert held(union, OTHER, 9e-7, 0.05) == union  # within the errors
    assert held(union, replace(OTHER, doubt="x"), 0.0, 0.05) == union


def test_a_value_of_first_order_gives_way_to_a_figure():
    assert settled(RARE, OTHER, 0, 10_000) == OTHER


def test_a_value_of_first_order_stands_where_nothing_was_met_and_is_in_doubt_where_something_was():
    nothing = replace(
        OTHER, probability=0.0, lower=0.0, standard_error=0.0, doubt="Subset simulation: none met."
    )
    kept = settled(RARE, nothing, 0, 10_000)
    assert (kept.probability, kept.doubt, kept.note) == (1e-14, "", nothing.doubt)
    something = replace(OTHER, doubt="Subset simulation: the replicates differ too much.")
    assert settled(RARE, something, 0, 10_000).doubt == something.doubt
