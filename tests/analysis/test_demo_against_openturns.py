"""Limit states of the demonstration rebuilt in an independent library: marginals, dependence and formulae.

Nothing of riskcut enters the rebuilt problem. First-order index, design point and probability are compared.
"""

from __future__ import annotations

import math
from functools import partial

import numpy as np
import openturns as ot
import pytest
from small_studies import DEMO

from riskcut.analysis.running import Settings, analyse
from riskcut.results import reading
from riskcut.study.reading import read_study

STAGE = "dig_4"


@pytest.fixture(scope="module")
def tree():
    return analyse(
        read_study(DEMO), Settings(seed=11, pilot_blocks=2, cap_blocks=8, base_rows=32, scrambles=2)
    )


def gumbel(mean: float, sd: float) -> ot.Distribution:
    scale = sd * math.sqrt(6.0) / math.pi
    return ot.Gumbel(scale, mean - 0.5772156649015329 * scale)


def lognormal(mean: float, cov: float) -> ot.Distribution:
    log_sd = math.sqrt(math.log1p(cov**2))
    return ot.LogNormal(math.log(mean) - log_sd**2 / 2, log_sd, 0.0)


def plug() -> tuple[ot.Distribution, ot.Function, tuple[str, ...]]:
    names = (
        "ground.strata.soft_clay.unit_weight",
        "ground.strata.sand.top",
        "water.aquifer.head",
        "water.aquifer.head.shared",
        "stages.dig_3.water.drawdown",
        "stages.dig_4.dig_to",
    )
    joint = ot.JointDistribution(
        [
            ot.Normal(17.15, 0.22),
            ot.Normal(-23.84, 0.44),
            gumbel(1.31, 0.24),
            ot.Normal(0.0, 0.07),
            ot.Normal(3.3, 0.45),
            ot.Normal(-10.0, 0.1),
        ]
    )

    def margin(sample):
        weight, top, head, shared, drawdown, formation = np.asarray(sample).T
        return (weight * (formation - top) - 9.81 * (head + shared - drawdown - top))[:, np.newaxis]

    return joint, ot.PythonFunction(6, 1, func_sample=margin), names


def heave(form: str) -> tuple[ot.Distribution, ot.Function, tuple[str, ...]]:
    names = (
        "ground.strata.crust.su",
        "ground.strata.soft_clay.su.at_top",
        "ground.strata.soft_clay.su.per_metre",
        "ground.strata.soft_clay.unit_weight",
        "ground.strata.sand.top",
        "stages.dig_4.dig_to",
        "loads.surcharge",
        f"model_factors.base_heave.{form}",
    )
    v1, v2 = 0.144, 0.113
    tie = math.log1p(0.33 * v1 * v2) / math.sqrt(math.log1p(v1**2) * math.log1p(v2**2))
    correlation = ot.CorrelationMatrix(8)
    correlation[1, 2] = tie
    from riskcut.mechanisms.base_heave import MECHANISM  # the default model factor alone: data, no formula

    factor = MECHANISM.factor(form)
    joint = ot.JointDistribution(
        [
            lognormal(48.0, 0.20),
            lognormal(22.4, v1),
            lognormal(3.11, v2),
            ot.Normal(17.15, 0.22),
            ot.Normal(-23.84, 0.44),
            ot.Normal(-10.0, 0.1),
            gumbel(12.0, 2.5),
            lognormal(factor.mean, factor.cov),
        ],
        ot.NormalCopula(correlation),
    )

    def margin(sample):
        crust, at_top, growth, weight, top, formation, surcharge, theta = np.asarray(sample).T
        breadth = np.minimum(formation - top, 19.0 / math.sqrt(2.0))
        depth = 1.7 - formation
        below = at_top + growth * (depth + breadth / 2.0)
        beside = 1.5 * crust + depth * (at_top + growth * depth / 2.0)
        load = 18.5 * 1.5 + weight * depth + surcharge
        resistance = {
            "wide_cut": 5.7 * below + beside / breadth,
            "bearing": 5.0 * (1.0 + 0.2 * (3.2 - formation) / 19.0) * (1.0 + 0.2 * 19.0 / 34.0) * below,
            "finite_cut": 5.14 * (1.0 + 0.2 * math.sqrt(2.0) * breadth / 34.0) * below + beside / breadth,
        }[form]
        return (theta * resistance - load)[:, np.newaxis]

    return joint, ot.PythonFunction(8, 1, func_sample=margin), names


@pytest.mark.parametrize(
    ("limit_state", "build"),
    [
        ("plug_uplift/plug", plug),
        *((f"base_heave/{form}", partial(heave, form)) for form in ("wide_cut", "bearing", "finite_cut")),
    ],
)
def test_the_rebuilt_limit_state_agrees(tree, limit_state, build):
    joint, function, names = build()
    vector = ot.RandomVector(joint)
    event = ot.ThresholdEvent(ot.CompositeRandomVector(function, vector), ot.Less(), 0.0)
    solver = ot.AbdoRackwitz()
    solver.setStartingPoint(joint.getMean())
    solver.setMaximumIterationNumber(200)
    form = ot.FORM(solver, event)
    form.run()
    found = form.getResult()

    section = reading.labels(tree, "section")[0]
    at = {"section": section, "stage": STAGE, "limit_state": limit_state}
    point = tree["design_point"].dataset.sel(at)
    beta = float(point["first_order_reliability_index"])
    assert beta == pytest.approx(found.getHasoferReliabilityIndex(), rel=2e-3)
    value = dict(zip(reading.labels(tree, "variable"), point["design_value"].values, strict=True))
    theirs = dict(zip(names, found.getPhysicalSpaceDesignPoint(), strict=True))
    for name in names:
        assert value[name] == pytest.approx(theirs[name], rel=0.02, abs=0.02), name

    ot.RandomGenerator.SetSeed(5)
    experiment = ot.ImportanceSamplingExperiment(
        ot.Normal(found.getStandardSpaceDesignPoint(), ot.CorrelationMatrix(len(names)))
    )
    simulation = ot.ProbabilitySimulationAlgorithm(ot.StandardEvent(event), experiment)
    simulation.setMaximumOuterSampling(20)
    simulation.setBlockSize(4000)
    simulation.setMaximumCoefficientOfVariation(-1.0)
    simulation.run()
    result = simulation.getResult()
    planned = tree["scenarios"].dataset.sel({**at, "scenario": reading.AS_PLANNED})
    ours = float(planned["scenario_failure_probability"])
    low, high = planned["scenario_failure_probability_bounds"].values
    error = math.hypot((high - low) / 3.92, result.getStandardDeviation())
    assert result.getStandardDeviation() < 0.02 * ours
    assert abs(ours - result.getProbabilityEstimate()) < 3.5 * error
