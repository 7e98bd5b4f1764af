"""What a user types and sees."""

from __future__ import annotations

import json
import os
import pty
import shutil
import signal
import subprocess
import sys
import time

import pytest
import xarray as xr
from click.testing import CliRunner

from riskcut.cli.main import commands
from riskcut.cli.progress import Progress

HEAVY = ("scipy", "SALib", "chaospy", "xarray", "matplotlib", "pydantic", "numpy", "pint", "ruamel")


def test_help_loads_nothing_heavy():
    code = (
        "import sys\nfrom riskcut.cli.main import commands\n"
        "try:\n    commands(['--help'])\nexcept SystemExit:\n    pass\n"
        f"print([m for m in {HEAVY!r} if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.splitlines()[-1] == "[]"
    assert "Usage" in done.stdout


def test_help_states_every_exit_code():
    text = CliRunner().invoke(commands, ["--help"]).output
    for code in ("0 ", "1 ", "2 ", "3 ", "130"):
        assert f"\n    {code}" in text


def test_check_tells_what_a_run_would_analyse(riskcut, study):
    done = riskcut("check", study)
    assert done.returncode == 0, done.stderr
    assert "plug_uplift/plug" in done.stdout
    assert "water.aquifer.head" in done.stdout
    assert "Without a stated basis (measured, published, judgement): water.aquifer.head" in done.stdout


def test_check_as_json(riskcut, study):
    content = json.loads(riskcut("check", study, "--json").stdout)
    assert content["uncertain_inputs"]["water.aquifer.head"]["mean"] == -2
    assert content["blocks"][0]["target"] == 3.0


def test_run_writes_results_and_figures_and_prints_the_answer(riskcut, study, tmp_path):
    done = riskcut("run", study, "--out", "results", "--seed", 3)
    assert done.returncode == 0, done.stderr
    assert "plug uplift" in done.stdout
    assert "Not covered" in done.stdout
    assert "competent engineer" in done.stdout
    written = sorted(path.name for path in (tmp_path / "results").iterdir())
    assert "plug.nc" in written
    assert {path.rpartition(".")[2] for path in written} == {"nc", "png", "svg"}
    assert len(written) == 11
    with xr.open_datatree(tmp_path / "results" / "plug.nc") as tree:
        assert tree.attrs["seed"] == 3
        assert tree.attrs["summary"] in done.stdout


def test_the_same_seed_prints_the_same(riskcut, study):
    texts = [
        riskcut("run", study, "--no-figures", "--quiet", "--workers", workers).stdout.partition("Written")[0]
        for workers in (1, 2)
    ]
    assert texts[0] == texts[1]
    assert texts[0]


def test_a_results_file_is_run_again_without_its_study(riskcut, study, tmp_path):
    first = riskcut("run", study, "--out", "a", "--no-figures")
    study.unlink()
    again = riskcut("run", tmp_path / "a" / "plug.nc", "--out", "b", "--no-figures")
    assert again.returncode == 0, again.stderr
    assert again.stdout.partition("Written")[0] == first.stdout.partition("Written")[0]


def test_run_as_json_has_no_nan_and_no_bare_zero(riskcut, study):
    done = riskcut("run", study, "--json", "--no-figures")
    content = json.loads(done.stdout, parse_constant=lambda name: pytest.fail(name))
    for state in content["limit_states"]:
        assert state["failure_probability"] != 0
        assert state["status"] in ("computed", "upper_bound_only", "cannot_fail", "untrusted")
    assert content["written"] == ["out/plug.nc"]


def test_quiet_says_nothing_on_stderr_and_otherwise_a_line_a_phase(riskcut, study):
    assert riskcut("run", study, "--no-figures", "--quiet").stderr == ""
    assert riskcut("run", study, "--no-figures").stderr.split() == [
        word for phase in ("pilot", "simulation", "aiming", "sensitivity") for word in (phase, "...")
    ]


def test_progress_on_a_terminal_is_one_line_and_cleared():
    main, side = pty.openpty()
    with os.fdopen(side, "w") as stream:
        progress = Progress(stream)
        for done in range(3):
            progress("simulation", done, 2)
        progress.close()
        shown = ""
        while not ("100 %" in shown and shown.endswith("\r")):  # a terminal hands over in pieces
            shown += os.read(main, 1000).decode()
    os.close(main)
    assert "simulation 50 %" in shown
    assert "\n" not in shown
    assert shown.endswith("\r")


@pytest.mark.parametrize("command", ["check", "run"])
def test_a_fault_names_file_line_path_and_writes_nothing(riskcut, study, tmp_path, command):
    study.write_text(study.read_text().replace("unit_weight: 18", "unit_wait: 18"))
    done = riskcut(command, study)
    assert done.returncode == 2
    assert done.stdout == ""
    assert f"{study}:5: ground.strata.clay.unit_wait: given the key unit_wait; wanted" in done.stderr
    assert "did you mean unit_weight?" in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["plug.yaml"]


def test_a_study_that_is_not_there(riskcut):
    done = riskcut("run", "nowhere.yaml")
    assert done.returncode == 2
    assert "nowhere.yaml" in done.stderr


def test_a_broken_results_file(riskcut, tmp_path):
    (tmp_path / "broken.nc").write_bytes(b"nothing")
    done = riskcut("run", "broken.nc")
    assert done.returncode == 2
    assert "a results file of riskcut" in done.stderr


def test_a_study_that_cannot_be_analysed_ends_with_3(riskcut, study, tmp_path):
    study.write_text(study.read_text().replace("dig_to: -10", "dig_to: {mean: -1, sd: 2}"))
    done = riskcut("run", study)
    assert done.returncode == 3
    assert "impossible" in done.stderr
    assert not (tmp_path / "out").exists()


def test_an_interrupt_leaves_the_earlier_results_whole(study, tmp_path, riskcut):
    assert riskcut("run", study, "--no-figures", "--quiet").returncode == 0
    before = (tmp_path / "out" / "plug.nc").read_bytes()
    # Larger, so that the interrupt meets it at work: a rare failure asks for every row allowed.
    study.write_text(study.read_text().replace("sd: 0.5", "sd: 0.08"))
    command = [sys.executable, "-m", "riskcut", "run", str(study), "--no-figures"]
    process = subprocess.Popen(
        command,
        cwd=tmp_path,
        stderr=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: signal.signal(
            signal.SIGINT, signal.SIG_DFL
        ),  # in the background it may be ignored
    )
    assert process.stderr is not None
    while "simulation" not in process.stderr.readline():
        time.sleep(0.01)
    process.send_signal(signal.SIGINT)
    _, told = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "interrupted" in told
    assert (tmp_path / "out" / "plug.nc").read_bytes() == before
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["plug.nc"]


def test_a_folder_that_cannot_be_made_is_told(riskcut, study, tmp_path):
    (tmp_path / "out").write_text("a file in the way")
    done = riskcut("run", study, "--no-figures", "--quiet")
    assert done.returncode == 2
    assert "out" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_installed_command_is_this_one():
    assert shutil.which("riskcut", path=os.path.dirname(sys.executable)), "install the project first"
