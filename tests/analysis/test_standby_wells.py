"""Wells that stand still, through whole studies whose failure probability is known exactly."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad
from scipy.stats import lognorm, norm
from small_studies import PLUG

from riskcut.study.schema import ReliefWells
from riskcut.study.standby import share_lost, well_states

RATES = {"installed": 3, "needed": 2, "failure_rate": "2 per year", "repair": "4 days"}
COMMON = {"common_failure_rate": "0.5 per year"}


def study(**wells: object) -> tuple[tuple[str, str], ...]:
    stated = ", ".join(f"{key}: {value}" for key, value in wells.items())
    line = f"  relief_wells: {{{stated}, basis: judgement, source: ours}}"
    return (
        ("head: {mean: -2, sd: 0.5}}", "head: {mean: -1.2, sd: 0.5}}\n" + line),
        ("dig_1: {dig_to: -10}", "dig_1: {dig_to: -10, lasts: 1 month, water: {drawdown: 1.2}}"),
    )


def pf(mean: float) -> float:
    return float(norm.sf(18.0 * 10.0 / 9.81 - 20.0, mean, 0.5))


def at_stage(tree) -> tuple[float, float]:
    group = tree["reliability"].dataset.sel(section="whole_cut", stage="dig_1")
    p = float(group["failure_probability"].sel(limit_state="plug_uplift/plug"))
    return p, float(group["coefficient_of_variation_of_estimate"].sel(limit_state="plug_uplift/plug")) * p


def test_the_states_are_put_together_by_their_probabilities(run):
    tree = run(PLUG, *study(**RATES, **COMMON))
    wells = ReliefWells(**RATES, **COMMON, basis="judgement", source="ours")
    states = well_states(wells, 1 / 12)
    exact = (1 - sum(s.probability for s in states)) * pf(-2.4)
    exact += sum(s.probability * pf(-2.4 + 1.2 * share_lost(wells, s)) for s in states)
    p, error = at_stage(tree)
    assert abs(p - exact) < 4 * error
    shares = tree["scenarios"]["scenario_probability"].sel(section="whole_cut", stage="dig_1")
    assert list(shares["scenario"].values) == ["as planned", *(s.name for s in states)]
    assert shares.values[1:] == pytest.approx([s.probability for s in states])


def test_an_answer_in_time_keeps_part_of_the_drawdown(run):
    times = {
        "response_time": "{dist: lognormal, mean: 4, cov: 0.5}",
        "recovery_time": "5",
    }
    tree = run(PLUG, *study(installed=3, needed=2, **COMMON, **times))
    zeta = math.sqrt(math.log(1 + 0.5**2))
    response = lognorm(zeta, scale=4 / math.sqrt(1.25))
    lost = quad(lambda t: response.pdf(t) * pf(-2.4 + 1.2 * (1 - math.exp(-t / 5))), 0, 200, limit=400)[0]
    share = 1 - math.exp(-0.5 / 12)
    p, error = at_stage(tree)
    assert abs(p - ((1 - share) * pf(-2.4) + share * lost)) < 4 * error
    given = tree["scenarios"]["scenario_failure_probability"].sel(
        section="whole_cut", stage="dig_1", limit_state="plug_uplift/plug", scenario="all wells out at once"
    )
    assert float(given) == pytest.approx(lost, abs=0.01)
