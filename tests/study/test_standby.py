"""States of wells and pumps against the exact Markov chain of independent machines."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import expm

from riskcut.study.block import Aquifer, WellLoss
from riskcut.study.schema import ReliefWells, Sumps
from riskcut.study.standby import frequency, pump_states, share_lost, well_states

WELLS = {"installed": 4, "needed": 3, "basis": "judgement", "source": "ours"}


def generator(machines: int, rate: float, repair: float) -> tuple[np.ndarray, list[tuple[int, ...]]]:
    """Return the generator of the chain of all states of n machines, each working (0) or out (1)."""
    states = list(itertools.product((0, 1), repeat=machines))
    q = np.zeros((len(states), len(states)))
    for i, state in enumerate(states):
        for machine, out in enumerate(state):
            other = (*state[:machine], 1 - out, *state[machine + 1 :])
            q[i, states.index(other)] = 1.0 / repair if out else rate
        q[i, i] = -q[i].sum()
    return q, states


@pytest.mark.parametrize(("installed", "out"), [(n, k) for n in range(1, 5) for k in range(1, n + 1)])
def test_the_frequency_is_that_of_the_markov_chain(installed: int, out: int) -> None:
    rate, repair = 0.8, 0.25
    q, states = generator(installed, rate, repair)
    share = np.linalg.lstsq(
        np.vstack([q.T, np.ones(len(states))]), np.array([*[0.0] * len(states), 1.0]), rcond=None
    )[0]
    into = sum(
        share[i] * q[i, j]
        for i, one in enumerate(states)
        for j, other in enumerate(states)
        if sum(one) == out - 1 and sum(other) == out
    )
    assert frequency(installed=installed, out=out, rate=rate, repair=repair) == pytest.approx(into, rel=1e-9)


@pytest.mark.parametrize("out", [2, 3])
def test_the_chance_over_a_stage_is_that_of_first_reaching_the_state(out: int) -> None:
    rate, repair, lasts = 1.0, 3 / 365.25, 0.5
    q, states = generator(4, rate, repair)
    for i, state in enumerate(states):
        if sum(state) >= out:
            q[i] = 0.0  # once there, it stays
    reached = sum(expm(q * lasts)[0, i] for i, state in enumerate(states) if sum(state) >= out)
    chance = -math.expm1(-frequency(installed=4, out=out, rate=rate, repair=repair) * lasts)
    assert chance == pytest.approx(reached, rel=0.06)  # repairs short beside the stage


def test_wells_that_may_be_spared_are_no_state() -> None:
    wells = ReliefWells(**WELLS, failure_rate="1 per year", repair="3 days")
    states = {state.name: state for state in well_states(wells, 0.25)}
    assert list(states) == ["2 of 4 wells out", "more wells out"]
    assert share_lost(wells, states["2 of 4 wells out"]) == pytest.approx(1 / 3)
    assert share_lost(wells, states["more wells out"]) == 1.0


def test_the_common_failure_is_a_poisson_event() -> None:
    wells = ReliefWells(**WELLS, common_failure_rate="0.1 per year")
    (state,) = well_states(wells, 0.25)
    assert state.at_once
    assert state.probability == pytest.approx(1 - math.exp(-0.025))


@settings(deadline=None, max_examples=60)
@given(
    pumps=st.integers(1, 6),
    rate=st.floats(0.01, 20),
    repair=st.floats(1, 20),
    common=st.none() | st.floats(0.001, 5),
    lasts=st.floats(0.01, 2),
)
def test_states_of_pumps_exclude_one_another(pumps, rate, repair, common, lasts):
    stated = {} if common is None else {"common_failure_rate": f"{common:.6f} per year"}
    sumps = Sumps(
        pumps=pumps,
        capacity=20,
        failure_rate=f"{rate:.6f} per year",
        repair=f"{repair:.3f} days",
        basis="judgement",
        source="ours",
        **stated,
    )
    states = pump_states(sumps, lasts)
    assert all(0.0 < state.probability < 1.0 for state in states)
    assert sum(state.probability for state in states) <= 1.0
    often = [
        frequency(installed=pumps, out=out, rate=sumps.failure_rate, repair=sumps.repair)
        for out in range(1, pumps + 1)
    ]
    any_out = 1 - math.exp(-max(often) * lasts) * math.exp(-(sumps.common_failure_rate or 0.0) * lasts)
    assert sum(state.probability for state in states) == pytest.approx(any_out, rel=1e-9)
    assert [state.out for state in states] == sorted({state.out for state in states})


def test_the_head_comes_back_by_63_per_cent_in_the_recovery_time() -> None:
    loss = WellLoss(drawdown=3.0, share=1.0, response_time=6.0, recovery_time=6.0)
    assert Aquifer(stratum="sand", head=-2.0, loss=loss).level == pytest.approx(-2.0 + 3.0 * (1 - 1 / math.e))
    assert Aquifer(stratum="sand", head=-2.0, loss=WellLoss(drawdown=3.0, share=0.5)).level == -0.5
    at_once = WellLoss(drawdown=3.0, share=1.0, response_time=1e-9, recovery_time=6.0)
    assert at_once.rise == pytest.approx(0.0, abs=1e-8)
