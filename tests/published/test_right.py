"""The judge of methods, with methods whose verdict is known."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
from reliability_problems import PROBLEMS
from right import judge, right
from scipy import special

from riskcut.reliability.problem import Problem


@dataclass(frozen=True)
class Told:
    failure_probability: float
    standard_error: float
    trusted: bool = True
    reason: str = "told so"


@pytest.mark.parametrize(
    ("estimate", "error", "verdict"),
    [
        (1.00e-3, 1e-5, True),
        (1.029e-3, 1e-5, True),
        (1.031e-3, 1e-5, False),  # beyond three standard errors
        (0.969e-3, 1e-5, False),
        (1.049e-3, 1e-4, True),
        (1.051e-3, 1e-4, False),  # within its wide error, and more than 5 % off
        (0.949e-3, 1e-4, False),
        (1.001e-3, 0.0, False),
        (1.0e-3, 0.0, True),
        (math.nan, 1e-5, False),
        (1.0e-3, math.nan, False),
        (0.0, math.inf, False),
    ],
)
def test_right_takes_both(estimate: float, error: float, verdict: bool) -> None:
    assert right(estimate, error, 1e-3) is verdict


def counting(problem: Problem, seed: int) -> Told:
    """Plain counting, by itself."""
    rows = 200_000
    u = np.random.Generator(np.random.PCG64(seed)).standard_normal((rows, problem.joint.drivers))
    component = problem.components[0]
    p = float(np.mean(component.margins(problem.joint.physical(u), [0])[:, 0] < 0.0))
    return Told(p, math.sqrt(p * (1.0 - p) / rows))


def test_plain_counting_is_right_where_failure_is_common(capsys: pytest.CaptureFixture[str]) -> None:
    rows = judge(counting, [PROBLEMS["RP55"], PROBLEMS["RP57"]], range(1, 4))
    assert [(row.problem, row.seed) for row in rows] == [(p, s) for p in ("RP55", "RP57") for s in (1, 2, 3)]
    assert all(row.right and row.acceptable and row.verdict == "right" for row in rows)
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 8
    assert lines[-1] == "6 answers: 6 right, 0 untrusted, 0 WRONG"


def test_one_plane_is_wrong_where_there_are_two(capsys: pytest.CaptureFixture[str]) -> None:
    """First order with a small error claimed: right for a plane, silently wrong for two modes."""
    beta = {"RP107": 5.0, "RP110": 4.0}

    def first_order(problem: Problem, _: int) -> Told:
        index = beta["RP107" if problem.joint.columns == 10 else "RP110"]
        p = float(special.ndtr(-index))
        return Told(p, 1e-3 * p)

    plane, modes = judge(first_order, [PROBLEMS["RP107"], PROBLEMS["RP110"]], [1])
    assert plane.acceptable
    assert (modes.right, modes.verdict, modes.acceptable) == (False, "WRONG", False)
    assert modes.error == pytest.approx(-0.00897, abs=1e-5)
    assert modes.errors_apart == pytest.approx(-9.05, abs=0.01)
    assert "WRONG: told so" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("problem", "acceptable"), [("RP63", True), ("RP110", True), ("RP111", True), ("RP22", False)]
)
def test_untrusted_is_allowed_for_three(problem: str, acceptable: bool) -> None:
    (row,) = judge(lambda *_: Told(0.0, 0.0, trusted=False, reason="no idea"), [PROBLEMS[problem]], [20])
    assert (row.verdict, row.right, row.acceptable) == ("untrusted", False, acceptable)


def test_columns_stand_under_each_other(capsys: pytest.CaptureFixture[str]) -> None:
    judge(lambda *_: Told(1e-3, 1e-5), PROBLEMS.values(), [1, 20])
    lines = capsys.readouterr().out.splitlines()[:-1]
    place = lines[0].index("verdict")
    assert {line[place : place + 5] for line in lines[1:]} <= {"right", "WRONG"}
