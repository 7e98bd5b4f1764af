"""The command line as a user has it: a process of its own."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

STUDY = """title: A plug over an aquifer
targets: {temporary: {beta: 3.0}}
ground:
  strata:
    clay: {top: 0, unit_weight: 18, su: {dist: lognormal, mean: 60, cov: 0.3, basis: judgement}}
    sand: {top: -20, unit_weight: 20, friction_angle: 35}
water:
  table: -1
  aquifer: {stratum: sand, head: {mean: -2, sd: 0.5}}
works:
  cut: {width: 20, length: 30}
stages:
  dig_1: {dig_to: -10}
"""


@pytest.fixture
def study(tmp_path: Path) -> Path:
    path = tmp_path / "plug.yaml"
    path.write_text(STUDY, encoding="utf-8")
    return path


@pytest.fixture
def riskcut(tmp_path: Path) -> Callable[..., subprocess.CompletedProcess[str]]:
    def call(*arguments: object) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "riskcut", *map(str, arguments)]
        return subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=300, check=False)

    return call
