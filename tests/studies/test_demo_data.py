"""The demonstration's numbers are the fits of its data, as data_demo/README.md says."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from riskcut.study.reading import read_study

ROOT = Path(__file__).parents[2]
CORRECTION = 0.10
"""Coefficient of variation of the vane's correction factor, and 1 % of measuring a unit weight: judgement."""
MEASURING = 0.01


@pytest.fixture(scope="module")
def study():
    return read_study(ROOT / "studies" / "a_pumping_station.yaml").study


def column(name: str, key: str) -> np.ndarray:
    lines = (ROOT / "data_demo" / name).read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("# Invented.")
    header, *rows = [line.split(",") for line in lines[1:]]
    return np.array([float(row[header.index(key)]) for row in rows])


def test_strength_of_the_soft_clay(study):
    depth = study.ground.strata["soft_clay"].top.value - column("withy_vane.csv", "level_m")
    su = column("withy_vane.csv", "su_kpa")
    design = np.column_stack([np.ones_like(depth), depth])
    line = np.linalg.solve(design.T @ design, design.T @ su)
    scatter = np.sum((su - design @ line) ** 2) / (len(su) - 2)
    covariance = scatter * np.linalg.inv(design.T @ design) + CORRECTION**2 * np.outer(line, line)
    sd = np.sqrt(np.diag(covariance))
    stated = study.ground.strata["soft_clay"].su
    for quantity, mean, spread in zip((stated.at_top, stated.per_metre), line, sd, strict=True):
        assert quantity.value == pytest.approx(mean, rel=0.005)
        assert quantity.sd == pytest.approx(spread, rel=0.01)
    (dependence,) = study.dependence
    assert dependence.correlation == pytest.approx(covariance[0, 1] / sd.prod(), abs=0.01)


def test_unit_weight_of_the_soft_clay(study):
    weight = column("withy_bulk_density.csv", "unit_weight_kn_m3")
    stated = study.ground.strata["soft_clay"].unit_weight
    assert stated.value == pytest.approx(weight.mean(), abs=0.01)
    spread = np.hypot(weight.std(ddof=1) / np.sqrt(len(weight)), MEASURING * weight.mean())
    assert stated.sd == pytest.approx(spread, abs=0.005)


def test_top_of_the_sand(study):
    top = column("withy_sand_top.csv", "top_m")
    stated = study.ground.strata["sand"].top
    assert stated.value == pytest.approx(top.mean(), abs=0.005)
    assert stated.sd == pytest.approx(top.std(ddof=1), abs=0.005)


def test_head_in_the_sand(study):
    head = column("withy_aquifer_head.csv", "level_m")
    stated = study.water.aquifer.head
    assert stated.value == pytest.approx(head.mean(), abs=0.005)
    assert stated.sd == pytest.approx(head.std(ddof=1), abs=0.005)
    assert stated.shared_sd == pytest.approx(head.std(ddof=1) / np.sqrt(len(head)), abs=0.005)
