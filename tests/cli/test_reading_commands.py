"""Commands that tell: a results file again, the mechanisms, what a run would take."""

from __future__ import annotations

import json

import pytest

from riskcut.mechanisms import catalogue


def test_show_tells_the_same_answer_from_the_file_alone(riskcut, study, tmp_path):
    ran = riskcut("run", study, "--no-figures", "--quiet")
    study.unlink()
    shown = riskcut("show", tmp_path / "out" / "plug.nc")
    assert shown.returncode == 0, shown.stderr
    assert shown.stdout.startswith(ran.stdout.partition("\n\nWritten")[0])
    assert "sha256" in shown.stdout
    assert "seed: 1" in shown.stdout


def test_show_every_tells_each_estimate_with_its_reason(riskcut, study, tmp_path):
    riskcut("run", study, "--no-figures", "--quiet")
    text = riskcut("show", tmp_path / "out" / "plug.nc", "--every").stdout
    assert "plug uplift, plug" in text
    assert "base heave, bearing" in text
    assert "shown beside" in text
    assert "the stage as a system" in text


def test_show_as_json(riskcut, study, tmp_path):
    riskcut("run", study, "--no-figures", "--quiet")
    content = json.loads(riskcut("show", tmp_path / "out" / "plug.nc", "--json").stdout)
    assert content["run"]["files"][0]["name"] == "plug.yaml"
    assert content["limit_states"]


def test_show_of_something_else_is_refused(riskcut, tmp_path):
    (tmp_path / "x.nc").write_bytes(b"nothing")
    done = riskcut("show", "x.nc")
    assert done.returncode == 2
    assert "x.nc" in done.stderr
    assert "Traceback" not in done.stderr


def test_mechanisms_lists_the_whole_catalogue(riskcut):
    text = riskcut("mechanisms").stdout
    for mechanism in catalogue().values():
        assert f"{mechanism.name}: " in text


@pytest.mark.parametrize("name", list(catalogue()))
def test_explain_tells_formula_range_factors_and_sources(riskcut, name):
    mechanism = catalogue()[name]
    text = " ".join(riskcut("explain", name).stdout.split())
    for said in (mechanism.sentence, mechanism.formula, *mechanism.range_of_use, *mechanism.sources):
        assert " ".join(said.split()) in text
    for key in mechanism.options:
        assert f"{key}: " in text
    plain = json.loads(riskcut("explain", name, "--json").stdout)
    assert plain["formula"] == mechanism.formula


def test_explain_of_a_misspelt_name(riskcut):
    done = riskcut("explain", "plug_uplif")
    assert done.returncode == 2
    assert "did you mean plug_uplift?" in done.stderr


def test_dry_run_says_what_a_run_would_take_and_writes_nothing(riskcut, study, tmp_path):
    done = riskcut("run", study, "--dry-run")
    assert done.returncode == 0, done.stderr
    assert "Nothing was written" in done.stdout
    assert [path.name for path in tmp_path.iterdir()] == ["plug.yaml"]
    content = json.loads(riskcut("run", study, "--dry-run", "--json").stdout)
    assert content["limit_states"] == 5  # three forms of heave, one plug, the rim
    assert content["columns"] == 6  # su, head, and the four model factors
    assert content["least_rows"] <= content["most_rows"]


def test_sheet_writes_out_the_worst_of_each_or_the_one_named(riskcut, study, tmp_path):
    riskcut("run", study, "--no-figures", "--quiet")
    results = tmp_path / "out" / "plug.nc"
    every = riskcut("sheet", results)
    assert every.returncode == 0, every.stderr
    assert "plug uplift, plug" in every.stdout
    assert "base heave, wide cut" in every.stdout
    one = riskcut("sheet", results, "--limit-state", "bearing", "--stage", "dig_1").stdout
    assert "base heave, bearing" in one
    assert "N_c" in one
    anywhere = riskcut("sheet", results, "--limit-state", "bearing")
    assert anywhere.returncode == 0, anywhere.stderr
    assert "base heave, bearing, section whole_cut, stage dig_1" in anywhere.stdout
    assert "In the system: no; shown beside wide_cut, which governs" in anywhere.stdout
    nowhere = riskcut("sheet", results, "--limit-state", "with_piles")
    assert nowhere.returncode == 2
    assert "base_heave/with_piles does not apply" in nowhere.stderr
    wrong = riskcut("sheet", results, "--limit-state", "bering")
    assert wrong.returncode == 2
    assert "wanted a limit state" in wrong.stderr
