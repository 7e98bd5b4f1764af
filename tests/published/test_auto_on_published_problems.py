"""The engine as a run uses it, on the published problems: right within three errors and 5 %, or as rough as it says."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from reliability_problems import PROBLEMS
from right import ERRORS, judge

from riskcut.reliability.assessment import assess
from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.plan import pilot
from riskcut.reliability.problem import Problem

WANTED = 0.0125
"""Coefficient of variation: four of them are the 5 % of the rule."""
SEEDS = (1, 2, 3)
MAY_BE_ROUGH = frozenset({"RP63"})
"""Of 100 inputs, where the rows for another method end before the accuracy asked for is reached."""
ROUGH = 0.05
"""Relative error that such a figure has at most; the plain count has 12 %."""


@dataclass(frozen=True)
class Answered:
    failure_probability: float
    standard_error: float
    trusted: bool
    reason: str


def auto(problem: Problem, seed: int) -> Answered:
    """Return the engine's figure; one that did not reach twice the accuracy asked for says so."""
    first = pilot(problem, seed=seed, blocks=2, bins=8)
    tally = simulate(problem, seed=seed, blocks=16, purpose="simulation", detail_blocks=1)
    found = assess(problem, first, tally, seed=seed, coefficient_of_variation=WANTED, cap_rows=262_144)
    figure = found.states[0, 0]
    reached = figure.standard_error <= 2.0 * WANTED * figure.probability
    reason = figure.doubt or (
        "" if reached else f"{figure.method}, with an error of {figure.standard_error:.1g}"
    )
    return Answered(figure.probability, figure.standard_error, not reason, reason)


@pytest.mark.parametrize("name", list(PROBLEMS))
def test_right_or_as_rough_as_it_says(name):
    for row in judge(auto, [PROBLEMS[name]], SEEDS):
        rough = abs(row.errors_apart) <= ERRORS and row.standard_error <= ROUGH * row.estimate
        assert row.verdict == "right" or (name in MAY_BE_ROUGH and rough), row
