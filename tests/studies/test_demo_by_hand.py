"""The demonstration at the means and its uplift, worked again from the study by independent arithmetic."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from riskcut.analysis.running import Settings, analyse
from riskcut.study.reading import read_study

DEMO = Path(__file__).parents[2] / "studies" / "a_pumping_station.yaml"


@pytest.fixture(scope="module")
def reliability():
    settings = Settings(seed=11, cap_blocks=64, base_rows=32, scrambles=4)
    return analyse(read_study(DEMO), settings)["reliability"].dataset


def at(reliability, name, stage, limit_state):
    return reliability[name].sel(section="whole_cut", stage=stage, limit_state=limit_state).item()


def test_uplift_at_the_means(reliability):
    # Weight of 13.84 m of clay against the drawn-down head over the top of the sand.
    weight, pressure = 17.15 * (23.84 - 10.0), 9.81 * (1.31 - 3.3 + 23.84)
    assert at(reliability, "resistance_at_means", "dig_4", "plug_uplift/plug") == pytest.approx(
        weight, rel=1e-12
    )
    assert at(reliability, "action_at_means", "dig_4", "plug_uplift/plug") == pytest.approx(
        pressure, rel=1e-12
    )


def test_wide_cut_at_the_means(reliability):
    overburden = 18.5 * 1.5 + 17.15 * 11.7 + 12
    breadth = 19 / math.sqrt(2)
    below = 22.4 + 3.11 * (11.7 + breadth / 2)
    beside = (48 * 1.5 + (22.4 + 3.11 * 11.7 / 2) * 11.7) / 13.2
    safety = (5.7 * below * breadth + beside * 13.2) / (overburden * breadth)
    assert at(reliability, "factor_of_safety_at_means", "dig_4", "base_heave/wide_cut") == pytest.approx(
        safety, rel=1e-9
    )


def test_uplift_by_an_independent_simulation(reliability):
    # Numpy alone, its own formulae and marginals: the uplift margin of the fourth dig.
    rng = np.random.default_rng(20)
    n = 4_000_000
    scale = 0.24 * math.sqrt(6) / math.pi
    natural = rng.gumbel(1.31 - np.euler_gamma * scale, scale, n) + rng.normal(0, 0.07, n)
    drawn_down = natural - rng.normal(3.3, 0.45, n)
    top, formation = rng.normal(-23.84, 0.44, n), rng.normal(-10.0, 0.1, n)
    weight = rng.normal(17.15, 0.22, n)
    planned, lost = (
        np.mean(weight * (formation - top) < 9.81 * np.maximum(head - top, 0))
        for head in (drawn_down, natural)
    )
    wells_lost = 1 - math.exp(-0.002 / 12)
    p = (1 - wells_lost) * planned + wells_lost * lost
    ours = at(reliability, "failure_probability", "dig_4", "plug_uplift/plug")
    error = math.sqrt(p / n + ours / int(reliability["rows"]))
    assert abs(ours - p) < 4 * error
