"""States of wells and pumps against the exact Markov chain of independent machines."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import expm
from study_texts import BOX, changed, compiled

from riskcut.study.block import Aquifer, WellLoss
from riskcut.study.compiling import Compiled
from riskcut.study.schema import ReliefWells, Sumps
from riskcut.study.standby import _at_least, frequency, pump_states, share_lost, well_states

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


def seen(installed: int, out: int, rate: float, repair: float, lasts: float) -> float:
    """Return the exact chance that *out* or more are out at some time of a stage that the machines run into."""
    q, states = generator(installed, rate, repair)
    share = rate * repair / (1.0 + rate * repair)
    began = np.array([share ** sum(state) * (1.0 - share) ** (installed - sum(state)) for state in states])
    there = np.array([sum(state) >= out for state in states])
    q[there] = 0.0  # once there, it stays
    return float(began @ expm(q * lasts) @ there)


@settings(deadline=None, max_examples=60)
@given(
    installed=st.integers(1, 5),
    rate=st.floats(0.05, 10.0),
    days=st.floats(0.5, 60.0),
    lasts=st.floats(0.02, 1.0),
)
def test_the_chances_of_a_stage_are_those_of_the_markov_chain(installed, rate, days, lasts):
    """Of one or more out to rounding; of several no less than the exact chance and up to a fifth more."""
    repair = days / 365.25
    chances = _at_least(installed, rate, repair, lasts)
    assert chances[installed:] == [0.0]
    for out, chance in enumerate(chances[:installed], start=1):
        exact = seen(installed, out, rate, repair, lasts)
        assert chance >= exact * (1.0 - 1e-9)
        assert chance <= exact * (1.0 + 1e-9 if out == 1 else 1.2)


def test_wells_that_may_be_spared_are_no_state() -> None:
    wells = ReliefWells(**WELLS, failure_rate="1 per year", repair="3 days")
    states = {state.name: state for state in well_states(wells, 0.25)}
    assert list(states) == ["2 of 4 wells out", "more wells out"]
    assert share_lost(wells, states["2 of 4 wells out"]) == pytest.approx(1 / 3)
    assert share_lost(wells, states["more wells out"]) == 1.0


def test_a_state_that_is_always_passed_through_is_no_state() -> None:
    """Wells that stand still for most of the time: where one is out, more are, and no scenario has no chance."""
    wells = ReliefWells(
        installed=3, needed=3, failure_rate="20 per year", repair="60 days", basis="judgement", source="ours"
    )
    (state,) = well_states(wells, 5.0)
    assert (state.name, state.probability) == ("more wells out", 1.0)


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
    assert sum(state.probability for state in states) <= 1.0 + 1e-12
    own = max(_at_least(pumps, sumps.failure_rate, sumps.repair, lasts))
    any_out = 1 - (1 - own) * math.exp(-(sumps.common_failure_rate or 0.0) * lasts)
    assert sum(state.probability for state in states) == pytest.approx(any_out, rel=1e-9)
    assert own >= seen(pumps, 1, sumps.failure_rate, sumps.repair, lasts) - 1e-9
    assert [state.out for state in states] == sorted({state.out for state in states})


def test_the_common_failure_makes_every_number_of_pumps_more_likely() -> None:
    """Of three pumps, k or more are out unless neither k single ones are nor all at once."""
    rates = {"pumps": 3, "capacity": 20, "failure_rate": "2 per year", "repair": "6 days"}
    stated = {**rates, "common_failure_rate": "1 per year", "basis": "judgement", "source": "ours"}
    sumps = Sumps(**stated)
    left = 0.0
    for state in reversed(pump_states(sumps, 0.1)):
        left += state.probability
        own = seen(3, state.out, 2.0, sumps.repair, 0.1)
        assert 1.0 - left == pytest.approx((1.0 - own) * math.exp(-0.1), rel=3e-3)


MACHINES = """\
  relief_wells:
    {installed: 3, needed: 2, failure_rate: 2 per year, repair: 4 days, common_failure_rate: 0.5 per year,
     response_time: 4, recovery_time: 5, basis: judgement, source: ours}
  sumps: {pumps: 2, capacity: 20, inflow: 10, failure_rate: 2 per year, repair: 4 days, basis: judgement, source: ours}
"""


def box() -> Compiled:
    """Return the box with wells and pumps, a month before any dig, drawn down from dig_b until the service begins."""
    before = "stages:\n  before:\n    lasts: 1 month\n"
    return compiled(
        changed(BOX, ("water:\n  table", "water:\n" + MACHINES + "  table"), ("stages:\n", before))
    )


def test_wells_stand_still_where_they_pump_and_pumps_where_a_cut_is_open() -> None:
    study = box()
    seen = {kind: {t.stage for t in study.templates if kind in t.scenario} for kind in ("wells", "pumps")}
    assert seen["wells"] == {"dig_b", "dig_c", "base", "strip"}
    assert seen["pumps"] == {"dig_a", "frame_a", *seen["wells"]}
    for stage in {t.stage for t in study.templates}:
        shares = [t.share for t in study.templates if t.stage == stage]
        assert all(0.0 < share <= 1.0 for share in shares)
        assert sum(shares) == pytest.approx(1.0, abs=1e-12)


def test_only_what_is_lost_at_once_may_be_answered_in_time() -> None:
    study = box()
    losses = {t.scenario: t.fill(study.means).aquifer.loss for t in study.templates if "wells" in t.scenario}
    assert len(losses) == 3
    for name, loss in losses.items():
        assert loss is not None
        assert (loss.response_time is None) == (name != "all wells out at once")
        assert (loss.recovery_time is None) == (name != "all wells out at once")
    assert losses["2 of 3 wells out"].rise == pytest.approx(0.5 * losses["more wells out"].rise)


def test_the_head_comes_back_by_63_per_cent_in_the_recovery_time() -> None:
    loss = WellLoss(drawdown=3.0, share=1.0, response_time=6.0, recovery_time=6.0)
    assert Aquifer(stratum="sand", head=-2.0, loss=loss).level == pytest.approx(-2.0 + 3.0 * (1 - 1 / math.e))
    assert Aquifer(stratum="sand", head=-2.0, loss=WellLoss(drawdown=3.0, share=0.5)).level == -0.5
    part = WellLoss(drawdown=3.0, share=0.5, response_time=2.0, recovery_time=6.0)
    assert part.rise == pytest.approx(1.5 * (1 - math.exp(-1 / 3)))
    at_once = WellLoss(drawdown=3.0, share=1.0, response_time=1e-9, recovery_time=6.0)
    assert at_once.rise == pytest.approx(0.0, abs=1e-8)
