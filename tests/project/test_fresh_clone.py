"""The README's main command, in a fresh clone with a fresh environment, as a newcomer types it."""

from __future__ import annotations

import os
import re
import subprocess
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.ci
def test_the_first_command_installs_and_runs_the_main_job(tmp_path):
    clone = tmp_path / "clone"
    subprocess.run(["git", "clone", "--quiet", str(ROOT), str(clone)], check=True, timeout=120)
    readme = (clone / "README.md").read_text(encoding="utf-8")
    command = re.findall(r"```sh\n(.*?)```", readme, re.S)[0].strip()
    environment = {
        name: value for name, value in os.environ.items() if name not in ("VIRTUAL_ENV", "PYTHONPATH")
    }
    done = subprocess.run(
        ["bash", "-c", command],
        cwd=clone,
        env=environment,
        capture_output=True,
        text=True,
        timeout=1800,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    assert "plug uplift" in done.stdout
    assert (clone / "out" / "a_pumping_station.nc").stat().st_size > 10_000
    figures = sorted(path.name for path in (clone / "out").iterdir() if path.suffix in (".png", ".svg"))
    assert len(figures) == 10
    # What the README shows is what the command prints, but for the last line's time.
    shown = re.search(r"```text\n(.*?)```", readme, re.S)[1].strip().splitlines()
    assert shown[:-1] == done.stdout.strip().splitlines()[:-1]
    again = time.monotonic()
    subprocess.run([str(clone / ".venv/bin/riskcut"), "--help"], check=True, capture_output=True, timeout=60)
    assert time.monotonic() - again < 5
