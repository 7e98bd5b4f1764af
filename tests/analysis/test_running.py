"""The results of a run: the same bits, no number without its status, and what is refused."""

from __future__ import annotations

import re
from itertools import pairwise

import numpy as np
import pytest
import xarray as xr
from small_studies import DEMO, HEAVE, PLUG

from riskcut.analysis.binding import bind
from riskcut.analysis.running import AnalysisError, Settings, analyse, checkpoints
from riskcut.results import files, reading, writing
from riskcut.results.status import Status
from riskcut.study.errors import StudyError
from riskcut.study.reading import read_study

SMALL = {"pilot_blocks": 2, "cap_blocks": 8, "base_rows": 32, "scrambles": 4}


@pytest.fixture(scope="module")
def demo() -> xr.DataTree:
    return analyse(read_study(DEMO), Settings(seed=3, **SMALL))


def differences(one: xr.DataTree, other: xr.DataTree) -> list[str]:
    found = []
    for group in one.children:
        for name, array in one[group].data_vars.items():
            a, b = array.values, other[group][name].values
            same = a.tobytes() == b.tobytes() if a.dtype.kind in "fiu" else (a == b).all()
            if not same:
                found.append(f"{group}/{name}")
    return found


@pytest.mark.parametrize(
    "how", [{"chunk_blocks": 1}, {"chunk_blocks": 3}, {"workers": 2}, {"workers": 3, "chunk_blocks": 2}]
)
def test_the_same_seed_gives_the_same_bits_however_it_is_computed(demo, how):
    again = analyse(read_study(DEMO), Settings(seed=3, **SMALL, **how))
    assert differences(demo, again) == []


def test_plain_simulation_alone_agrees_with_aimed_samples(demo):
    plain = analyse(read_study(DEMO), Settings(seed=5, method="plain", **SMALL))
    assert "design_point" not in plain.children
    assert int(plain["reliability"]["aimed_rows"]) == 0
    told = ["stage_failure_probability", "failure_probability"]
    for name in told:
        upper = plain["reliability"][f"{name}_bounds"].sel(bound="upper")
        lower = plain["reliability"][f"{name}_bounds"].sel(bound="lower")
        aimed = demo["reliability"][name]
        both = upper.notnull() & aimed.notnull()
        assert both.sum() > 5
        # Intervals of 95 % of some fifty figures: a factor and a half about each leaves none outside.
        assert (aimed.where(both, 0.0) <= 1.5 * upper.where(both, 1.0)).all()
        assert (aimed.where(both, 1.0) >= lower.where(both, 0.0) / 1.5).all()


def test_another_seed_gives_other_rows(demo):
    other = analyse(read_study(DEMO), Settings(seed=4, **SMALL))
    assert "reliability/failures" in differences(demo, other)


def test_no_number_is_missing_without_a_status(demo):
    # assemble() refuses it; this looks again at the finished tree, by hand.
    group = demo["reliability"].dataset
    missing = np.isnan(group["failure_probability"])
    without = (Status.UPPER_BOUND_ONLY, Status.NOT_APPLICABLE, Status.CANNOT_FAIL)
    assert np.isin(group["status"].values[missing.values], without).all()
    known = (Status.COMPUTED, Status.FIRST_ORDER_ONLY, Status.UNTRUSTED)
    assert np.isin(group["status"].values[~missing.values], known).all()
    assert (group["estimated_by"].values[~missing.values] != "").all()
    reasons = group["reason"].values[missing.values]
    assert all(reasons)


def test_every_array_says_its_unit_and_name(demo):
    for group in demo.children:
        for name, array in demo[group].data_vars.items():
            assert array.attrs["units"], (group, name)
            assert array.attrs["long_name"], (group, name)


def test_what_failed_is_within_its_own_bounds(demo):
    group = demo["reliability"].dataset
    bounds = group["failure_probability_bounds"]
    p = group["failure_probability"]
    known = p.notnull() & (
        group["status"] != Status.FIRST_ORDER_ONLY
    )  # of which only an upper bound is known
    assert known.any()
    assert ((bounds.sel(bound="lower") <= p) | ~known).all()
    assert ((bounds.sel(bound="upper") >= p) | ~known).all()


def test_a_results_file_holds_its_study_and_reproduces_the_run(demo, tmp_path):
    writing.write(demo, tmp_path / "a.nc")
    from riskcut.cli.opening import open_study

    again = analyse(open_study(tmp_path / "a.nc"), Settings(seed=3, **SMALL))
    assert differences(demo, again) == []
    assert files.unpack(demo)[0][1] == DEMO.read_bytes()


def test_plain_xarray_opens_it(demo, tmp_path):
    writing.write(demo, tmp_path / "a.nc")
    with xr.open_datatree(tmp_path / "a.nc") as tree:
        p = tree["reliability"]["failure_probability"]
        assert p.dims == ("section", "stage", "limit_state")
        assert p.sel(stage="dig_4", limit_state="plug_uplift/plug").item() > 0


@pytest.mark.parametrize("blocks", [1, 2, 7, 16, 512])
def test_checkpoints_grow_and_end_at_the_end(blocks):
    points = checkpoints(blocks)
    assert points[-1] == blocks
    assert all(a < b for a, b in pairwise(points))


@pytest.mark.parametrize(
    ("add", "line", "path", "given", "wanted"),
    [
        ("models: {base_heav: {governing: bearing}}", 2, "models.base_heav", "base_heav", "did you mean base_heave"),
        ("models: {base_heave: {govern: bearing}}", 2, "models.base_heave.govern", "govern", "did you mean governing"),
        ("models: {base_heave: {governing: slip}}", 2, "models.base_heave.governing", "slip", "wide_cut"),
        ("models: {prop_overload: {stiff_coefficient: 0.9}}", 2, "models.prop_overload.stiff_coefficient",
         "0.9", "0.4"),
        ("model_factors: {base_heave: {bering: 1}}", 2, "model_factors.base_heave.bering", "bering", "bearing"),
        ("dependence: [{between: [water.aquifer.head, model_factors.base_heave.bering], correlation: 0.2}]", 2,
         "dependence.0", "model_factors.base_heave.bering", "an uncertain number"),
    ],
)  # fmt: skip
def test_what_the_study_says_of_mechanisms_is_checked(study, add, line, path, given, wanted):
    with pytest.raises(StudyError) as error:
        bind(study(PLUG, ("\ntitle:", f"\n{add}\ntitle:")))
    (fault,) = error.value.faults
    assert (fault.line, fault.path) == (line, path)
    assert given in fault.given
    assert wanted in fault.wanted


def test_correlations_that_contradict_each_other_are_refused(study):
    strong = (
        "dependence:\n"
        "  - {between: [water.aquifer.head, ground.strata.clay.unit_weight], correlation: 0.9}\n"
        "  - {between: [water.aquifer.head, stages.dig_1.dig_to], correlation: 0.9}\n"
        "  - {between: [ground.strata.clay.unit_weight, stages.dig_1.dig_to], correlation: -0.9}\n"
    )
    changes = (
        ("unit_weight: 18", "unit_weight: {mean: 18, sd: 0.3}"),
        ("dig_to: -10", "dig_to: {mean: -10, sd: 0.1}"),
        ("\ntitle:", f"\n{strong}title:"),
    )
    with pytest.raises(StudyError, match="weaker correlations"):
        bind(study(PLUG, *changes))


def test_too_many_impossible_rows_stop_the_run(run):
    with pytest.raises(AnalysisError, match="impossible"):
        run(PLUG, ("dig_to: -10", "dig_to: {mean: -0.5, sd: 1}"))


def test_a_margin_without_uncertainty_cannot_fail(run):
    tree = run(PLUG)
    where = {"section": "whole_cut", "stage": "dig_1", "limit_state": "base_heave/wide_cut"}
    changed = run(
        PLUG, ("\ntitle:", "\nmodel_factors: {base_heave: {bearing: 1, wide_cut: 1, finite_cut: 1}}\ntitle:")
    )
    assert int(changed["reliability"]["status"].sel(where)) == Status.CANNOT_FAIL
    assert int(tree["reliability"]["status"].sel(where)) != Status.CANNOT_FAIL


def test_correlated_inputs_are_drawn_correlated(study):
    changes = (
        ("{dist: lognormal, mean: 40, cov: 0.25}", "{at_top: {dist: lognormal, mean: 40, cov: 0.25}, "
         "per_metre: {dist: lognormal, mean: 1, cov: 0.4}}"),
        ("\ntitle:", "\ndependence: [{between: [ground.strata.clay.su.at_top, ground.strata.clay.su.per_metre], "
         "correlation: -0.5}]\ntitle:"),
    )  # fmt: skip
    joint = bind(study(HEAVE, *changes)).problem.joint
    z = joint.correlate(np.random.default_rng(1).standard_normal((200_000, joint.drivers)))
    x = joint.physical(z)
    found = np.corrcoef(x[:, 0], x[:, 1])[0, 1]
    assert found == pytest.approx(-0.5, abs=0.01)


def test_the_shares_of_the_worst_stage_are_those_of_the_probabilities(demo):
    section = reading.labels(demo, "section")[0]
    worst = reading.worst([reading.stage_system(demo, section, s) for s in reading.labels(demo, "stage")])
    line = next(one for one in str(demo.attrs["summary"]).splitlines() if "  worst stage" in one)
    told = [int(one) for one in re.findall(r"in (\d+) % ", line)]
    governing = [
        e.failure_probability / worst.failure_probability
        for e in reading.estimates(demo, section=section, stage=worst.stage)
        if reading.governs(demo, e) and e.failure_probability > 0
    ]
    assert len(governing) > 2
    expected = sorted((100 * share for share in governing if share >= 0.01), reverse=True)
    assert told == [pytest.approx(share, abs=0.51) for share in expected]


def test_one_shaft_friction_has_one_factor_wherever_it_counts():
    bound = bind(read_study(DEMO))
    named = [column.address for column in bound.compiled.columns if "model_factors" in column.address]
    assert named.count("model_factors.shaft_friction.all") == 1
    assert not any(name.startswith("model_factors.flotation") for name in named)
