"""The long cut: every section answers, deeper sections are worse, and one section worked again by hand."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import dblquad

from riskcut.analysis.running import Settings, analyse
from riskcut.results import reading
from riskcut.study.reading import read_study

STUDY = Path(__file__).parents[2] / "studies" / "b_road_cut.yaml"


@pytest.fixture(scope="module")
def tree():
    return analyse(read_study(STUDY), Settings(seed=2, cap_blocks=16, base_rows=32, scrambles=4))


def test_every_section_answers_at_each_of_its_stages(tree):
    group = tree["reliability"].dataset
    for section in reading.labels(tree, "section"):
        stages = group["stage_applies"].sel(section=section)
        for stage in stages["stage"].values[stages.values == 1]:
            assert reading.estimates(tree, section=section, stage=str(stage)), (section, stage)
    shallow = group["stage_applies"].sel(section="ch_000")
    assert shallow["stage"].values[shallow.values == 1].tolist() == ["dig_1", "in_service"]


def test_a_deeper_section_has_a_lower_factor_of_safety_against_heave(tree):
    safety = tree["reliability"]["factor_of_safety_at_means"].sel(limit_state="base_heave/wide_cut")
    least = safety.min(dim="stage").values
    assert np.all(np.diff(least) < 0)


def test_the_deepest_section_by_hand(tree):
    at = {"section": "ch_280", "stage": "dig_3"}
    # 12.1 m deep with the mean overdig; 10 kPa of traffic, and the rig on 4.5 of the 9.19 m that sink, 6 m of 40.
    depth, breadth = 12.1, 13 / math.sqrt(2)
    load = 18.5 * 1.5 + 17.6 * (depth - 1.5) + 10 + 55 * 4.5 / breadth * 6 / 40
    below = 30 + 2.4 * (depth - 1.5 + breadth / 2)
    beside = 45 * 1.5 + (30 + 2.4 * (depth - 1.5) / 2) * (depth - 1.5)
    wide = tree["reliability"]["factor_of_safety_at_means"].sel(**at, limit_state="base_heave/wide_cut")
    assert float(wide) == pytest.approx((5.7 * below + beside / breadth) / load, rel=1e-9)
    plug = tree["reliability"]["factor_of_safety_at_means"].sel(**at, limit_state="plug_uplift/plug")
    assert float(plug) == pytest.approx(17.6 * (18.2 - 7.1) / (9.81 * (18.2 - 0.25)), rel=1e-9)


def test_the_rig_loads_the_prop_of_the_second_dig(tree):
    # One prop at 1.2 m below ground, formation 5.6 m down in ch_080: its share of what the rig presses,
    # by Boussinesq's point loads on a wall that does not yield, and the rest by the diagrams.
    height, prop = 5.6, 1.2
    levels = np.linspace(0.05, height, 120)

    def rig(z: float) -> float:
        def point(y: float, x: float) -> float:
            return 3 * x * x * z / (2 * math.pi * (x * x + y * y + z * z) ** 2.5)

        return 2 * 55 * dblquad(point, 2.0, 6.5, -3, 3, epsabs=1e-6)[0]

    pressure = np.array([rig(z) for z in levels])
    force, moment = np.trapezoid(pressure, levels), np.trapezoid(pressure * levels, levels)
    of_rig = force - (moment - force * prop) / (height - prop)
    # H is 5.6 m: crust 1.5 m, clay 4.1 m; N is below 4, so the stiff diagram with 0.3 gamma H holds.
    overburden = 18.5 * 1.5 + 17.6 * 4.1
    stability = overburden / ((45 * 1.5 + (30 + 2.4 * 4.1 / 2) * 4.1) / height)
    assert stability < 4
    z = np.linspace(0, height, 20001)
    trapezoid = np.interp(z, [0, height / 4, 0.75 * height, height], [0, 1, 1, 0]) * 0.3 * overburden + 10
    force, moment = np.trapezoid(trapezoid, z), np.trapezoid(trapezoid * z, z)
    of_soil = force - (moment - force * prop) / (height - prop)
    warmth = 0.5 * 1.2e-5 * 8 * 210e6 * 0.032
    action = 6.0 * 0.75 * (of_soil + of_rig) + warmth
    found = tree["reliability"]["action_at_means"].sel(
        section="ch_080", stage="dig_2", limit_state="prop_overload/upper"
    )
    assert float(found) == pytest.approx(action, rel=0.01)
