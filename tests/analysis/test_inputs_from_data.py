"""Whole runs of studies whose inputs are had from data: published fits, and tails that nobody knows."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from scipy.stats import genextreme
from small_studies import PLUG

from riskcut.analysis.running import Settings, analyse
from riskcut.cli.show import show
from riskcut.results import files, writing
from riskcut.results.data_inputs import data_inputs
from riskcut.results.status import Status
from riskcut.study.reading import parse_study
from riskcut.uncertainty.empirical import Empirical

SEA = (Path(__file__).parents[1] / "uncertainty" / "data" / "annual_maximum_sea_level.csv").read_bytes()
UPLIFT = {"section": "whole_cut", "stage": "dig_1", "limit_state": "plug_uplift/plug"}
BEARING = UPLIFT | {"limit_state": "base_heave/wide_cut"}
GAMMA_W = 9.81


def run(head: str, *, formation: float = -10.0, data: bytes = SEA) -> xr.DataTree:
    text = PLUG.replace("{mean: -2, sd: 0.5}", head)
    text = text.replace("dig_to: -10", f"dig_to: {formation!r}, lasts: 5 years")
    study = parse_study("study.yaml", text.encode(), {"sea.csv": data}.get)
    return analyse(study, Settings(seed=5, pilot_blocks=2, cap_blocks=32, base_rows=64))


def level_of(head: float) -> float:
    """Return the formation at which a plug above -20 m is just held down under this head."""
    return GAMMA_W * (head + 20.0) / 18.0 - 20.0


FIT = "{{fit: {kind}, data: sea.csv, column: level_m, period: 1 year, basis: measured}}"
PUBLISHED = {
    # Coles (2001), section 3.4.1: parameters and standard errors as printed, log-likelihood
    "gev": (
        {"location": (3.8747, 0.0279), "scale": (0.1980, 0.0202), "shape": (-0.0501, 0.0983)},
        5.1e-5,
        4.34,
    ),
    # likewise, the standard errors to two digits (recalled)
    "gumbel": ({"location": (3.8694, 0.03), "scale": (0.1949, 0.019)}, 5e-3, 4.22),
}


@pytest.mark.parametrize("kind", PUBLISHED)
def test_published_fits_through_a_whole_study(kind: str, tmp_path: Path) -> None:
    published, within, log_likelihood = PUBLISHED[kind]
    head = 4.6
    tree = run(FIT.format(kind=kind), formation=level_of(head))
    (told,) = data_inputs(tree)
    assert (told.variable, told.kind, told.values) == ("water.aquifer.head", kind, 65)
    assert (told.file, told.column) == ("sea.csv", "level_m")
    assert [one.name for one in told.parameters] == list(published)
    for one in told.parameters:
        value, error = published[one.name]
        assert one.value == pytest.approx(value, abs=5.1e-5)
        assert one.standard_error == pytest.approx(error, abs=within)
        assert one.unit == ("1" if one.name == "shape" else "m")
    assert told.log_likelihood == pytest.approx(log_likelihood, abs=0.005)
    assert "Kolmogorov-Smirnov" in told.distance

    # the largest of five years exceeds 4.6 m with 1 - F(4.6)^5, by the published parameters
    parameters = {name: value for name, (value, _) in published.items()}
    yearly = genextreme(-parameters.get("shape", 0.0), parameters["location"], parameters["scale"])
    exact = -math.expm1(5 * yearly.logcdf(head))
    found = float(tree["reliability"]["failure_probability"].sel(UPLIFT))
    assert found == pytest.approx(exact, rel=0.04)

    assert dict(files.unpack(tree))["sea.csv"] == SEA
    path = tmp_path / "results.nc"
    writing.write(tree, path)
    text = show(path, as_json=False, every=False)
    assert f"water.aquifer.head: {kind} fitted to 65 values of sea.csv, column level_m" in text
    assert (
        f"    location {published['location'][0]:.4g} m, standard error {told.parameters[0].standard_error:.2g} m"
        in text
    )
    assert data_inputs(writing.read(path)) == [told]
    of_json = json.loads(show(path, as_json=True, every=False))["inputs_from_data"]
    assert of_json[0]["parameters"][0]["name"] == "location"


def test_stated_inputs_are_told_as_stated(tmp_path: Path) -> None:
    tree = run("{mean: -2, sd: 0.5}")
    assert data_inputs(tree) == []
    assert not tree["inputs"]["fitted"].any()
    assert not tree["inputs"]["data_values"].any()
    path = tmp_path / "results.nc"
    writing.write(tree, path)
    assert "Inputs from data" not in show(path, as_json=False, every=False)


HEADS = np.round(np.random.default_rng(3).normal(-2.0, 0.5, 80), 3)
OWN = ("head\n" + "\n".join(map(str, HEADS))).encode()
EMPIRICAL = "{fit: empirical, data: sea.csv}"
REASON = "Pf below 10/80 of an empirical distribution of 80 values: its tail is not known"


def status(tree: xr.DataTree, name: str, where: dict[str, str]) -> Status:
    return Status(int(tree["reliability"][name].sel(where)))


def test_an_empirical_head_is_read_within_its_data() -> None:
    head = float(np.quantile(HEADS, 0.7))
    tree = run(EMPIRICAL, formation=level_of(head), data=OWN)
    group = tree["reliability"]
    assert status(tree, "status", UPLIFT) is Status.COMPUTED
    rows = int(group["rows"])
    found = float(group["failure_probability"].sel(UPLIFT))
    assert abs(found - 0.3) < 4 * math.sqrt(0.21 / rows)
    assert status(tree, "section_status", {"section": "whole_cut"}) is Status.COMPUTED
    (told,) = data_inputs(tree)
    assert (told.kind, told.values, told.parameters, told.log_likelihood) == ("empirical", 80, (), None)
    inputs = tree["inputs"].sel(variable="water.aquifer.head")
    assert float(inputs["mean"]) == Empirical(HEADS).mean
    assert float(inputs["input_quantile"].sel(quantile=0.5)) == pytest.approx(np.median(HEADS), rel=1e-12)


@pytest.mark.parametrize("head", [float(np.quantile(HEADS, 0.97)), float(HEADS.max()) + 0.5])
def test_nothing_is_read_in_its_tail(head: float) -> None:
    tree = run(EMPIRICAL, formation=level_of(head), data=OWN)
    group = tree["reliability"]
    for prefix, where in (
        ("", UPLIFT),
        ("stage_", {"section": "whole_cut", "stage": "dig_1"}),
        ("section_", {"section": "whole_cut"}),
        ("overall_", {"dependence": "sections share their ground"}),
        ("overall_", {"dependence": "sections independent"}),
    ):
        assert status(tree, f"{prefix}status", where) is Status.UNTRUSTED, prefix
        assert str(group[f"{prefix}reason"].sel(where).item()).startswith(REASON), prefix
        upper = group[f"{prefix}failure_probability_bounds"].sel(where | {"bound": "upper"})
        assert float(upper) >= 10 / 80
    # a limit state that does not read the head is as good as ever
    assert status(tree, "status", BEARING) is not Status.UNTRUSTED


def test_just_above_and_just_below_ten_of_its_values() -> None:
    for p, expected in ((0.14, Status.COMPUTED), (0.11, Status.UNTRUSTED)):
        tree = run(EMPIRICAL, formation=level_of(float(np.quantile(HEADS, 1 - p))), data=OWN)
        assert status(tree, "status", UPLIFT) is expected, p


def test_each_scenario_is_judged_by_its_own_tail() -> None:
    # If the wells stop three of ten heads fail the plug. As planned none does, which the data cannot tell: up to
    # 10/80 would be most of the stage's probability.
    event = """
events:
  wells_stop: {stages: dig_1, water: {drawdown: 0}, probability: 0.02, basis: judgement, source: invented}
"""
    head = float(np.quantile(HEADS, 0.7))
    text = PLUG.replace("{mean: -2, sd: 0.5}", EMPIRICAL) + event
    text = text.replace("{dig_to: -10}", f"{{dig_to: {level_of(head)!r}, water: {{drawdown: 6}}}}")
    study = parse_study("study.yaml", text.encode(), {"sea.csv": OWN}.get)
    tree = analyse(study, Settings(seed=5, pilot_blocks=2, cap_blocks=32, base_rows=64))
    group = tree["scenarios"].sel(UPLIFT)
    happening = group.sel(scenario="wells_stop")
    assert Status(int(happening["scenario_status"])) is Status.COMPUTED
    assert float(happening["scenario_failure_probability"]) == pytest.approx(0.3, abs=0.01)
    planned = group.sel(scenario="as planned")
    assert Status(int(planned["scenario_status"])) is Status.UNTRUSTED
    assert status(tree, "status", UPLIFT) is Status.UNTRUSTED
