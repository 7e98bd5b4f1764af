"""One number of a study: its moments, its bounds, its provenance."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError
from scipy import stats

from riskcut.study.measure import Measure
from riskcut.study.measures import Length, Level, Pressure, Share, Strength, Temperature
from riskcut.study.quantity import Quantity


def number(given: Any, measure: Any = Strength) -> Quantity:
    quantity: Quantity = TypeAdapter(measure).validate_python(given)
    return quantity


def said(given: Any, measure: Any = Strength) -> list[tuple[tuple[str, ...], str, str]]:
    with pytest.raises(ValidationError) as raised:
        number(given, measure)
    faults: list[tuple[tuple[str, ...], str, str]] = raised.value.errors()[0]["ctx"]["faults"]
    return faults


def test_a_certain_number() -> None:
    quantity = number("0.035 MPa")
    assert (quantity.kind, quantity.value, quantity.unit, quantity.sd) == ("certain", 35.0, "kPa", 0.0)
    assert not quantity.uncertain


@settings(deadline=None, max_examples=60)
@given(low=st.floats(0.1, 1e3), width=st.floats(1e-3, 1e3))
def test_moments_of_a_uniform_number(low: float, width: float) -> None:
    quantity = number({"low": low, "high": low + width})
    reference = stats.uniform(low, low + width - low)
    assert quantity.kind == "uniform"
    assert quantity.value == pytest.approx(reference.mean(), rel=1e-9)
    assert quantity.sd == pytest.approx(reference.std(), rel=1e-6)
    assert quantity.parameters == {"low": low, "high": low + width}


@pytest.mark.parametrize("dist", ["normal", "lognormal", "gumbel"])
@settings(deadline=None, max_examples=20)
@given(mean=st.floats(1e-3, 1e6), cov=st.floats(0.001, 0.19))
def test_a_cov_is_a_share_of_the_mean(dist: str, mean: float, cov: float) -> None:
    quantity = number({"dist": dist, "mean": mean, "cov": cov})
    assert quantity.parameters == {"mean": mean, "sd": pytest.approx(cov * mean, rel=1e-12)}
    same = number({"dist": dist, "mean": mean, "sd": cov * mean})
    assert same.parameters == pytest.approx(quantity.parameters)


def test_the_spread_of_a_negative_number_is_positive() -> None:
    assert number({"mean": -8, "cov": 0.25}, Temperature).sd == 2.0


def test_units_of_mean_spread_and_cov() -> None:
    quantity = number({"mean": "24 kPa", "sd": "0.005 MPa"})
    assert (quantity.value, quantity.sd) == pytest.approx((24.0, 5.0))
    assert number({"mean": "24 kPa", "cov": "10 %"}).sd == pytest.approx(2.4)


def test_normal_unless_stated_and_uniform_by_its_bounds() -> None:
    assert number({"mean": 5, "sd": 0.5}).kind == "normal"
    assert number({"low": 5, "high": 6}).kind == "uniform"
    assert number({"dist": "uniform", "low": 5, "high": 6}).kind == "uniform"


def test_everything_else_that_a_number_says() -> None:
    quantity = number(
        {
            "dist": "gumbel",
            "mean": 12,
            "sd": 1,
            "period": "6 months",
            "shared": {"sd": 0.5},
            "varies": "per_stage",
        }
        | {"basis": "measured", "source": "gauge", "data": "gauge.csv"},
        Pressure,
    )
    assert quantity.period == pytest.approx(0.5)
    assert (quantity.shared_sd, quantity.varies, quantity.basis) == (0.5, "per_stage", "measured")
    assert (quantity.source, quantity.data, quantity.at_least) == ("gauge", "gauge.csv", 0.0)
    assert number({"mean": 5, "sd": 0.1}).basis == "not_stated"


@pytest.mark.parametrize(
    ("dist", "inside", "outside"),
    # The share below 0 is 1e-6 where the mean is 4.75 sd above it (normal), 2.50 sd (Gumbel, largest values).
    [("normal", 1 / 4.76, 1 / 4.74), ("gumbel", 1 / 2.51, 1 / 2.48)],
)
def test_a_number_that_falls_below_its_bound_too_often_is_refused(
    dist: str, inside: float, outside: float
) -> None:
    assert number({"dist": dist, "mean": 10, "cov": inside}).kind == dist
    ((at, given, wanted),) = said({"dist": dist, "mean": 10, "cov": outside})
    assert at == ()
    assert f"a {dist} number with its mean" in given
    assert "dist: lognormal" in wanted
    assert number({"dist": "lognormal", "mean": 10, "cov": outside}).kind == "lognormal"


def test_a_level_has_no_bound_and_no_cov() -> None:
    assert number({"mean": -3, "sd": 50}, Level).value == -3
    assert said({"mean": -3, "cov": 0.1}, Level)[0][0] == ("cov",)


def test_a_number_that_exceeds_its_bound_too_often_is_refused() -> None:
    assert number({"dist": "lognormal", "mean": 0.55, "cov": 0.2}, Share).value == 0.55
    assert "of it above 1" in said({"dist": "lognormal", "mean": 0.8, "cov": 0.2}, Share)[0][1]
    assert number({"low": 0.7, "high": 1.0}, Share).parameters["high"] == 1.0


@settings(deadline=None, max_examples=200)
@given(
    given=st.dictionaries(
        st.sampled_from(
            ["mean", "sd", "cov", "low", "high", "dist", "varies", "period", "shared", "basis", "source"]
        )
        | st.sampled_from(["data", "meen", "zz"]),
        st.one_of(
            st.none(),
            st.booleans(),
            st.integers(-3, 30),
            st.floats(),
            st.sampled_from(
                ["gumbel", "lognormal", "uniform", "1 year", "5 kPa", "per_stage", "measured", "", "x"]
            ),
            st.lists(st.integers(), max_size=2),
            st.dictionaries(st.sampled_from(["sd", "mean"]), st.floats(), max_size=2),
        ),
        max_size=5,
    )
)
def test_any_mapping_gives_a_sound_number_or_faults_that_say_something(given: dict[str, Any]) -> None:
    try:
        quantity = number(given, Length)
    except ValidationError as error:
        faults = error.errors()[0]["ctx"]["faults"]
        assert faults
        assert len(set(faults)) == len(faults), "told once"
        assert all(words and wanted and "\n" not in words + wanted for _, words, wanted in faults)
        return
    assert quantity.uncertain
    assert quantity.value > 0
    assert 0 < quantity.sd < math.inf
    if quantity.kind == "uniform":
        assert 0 < quantity.parameters["low"] < quantity.parameters["high"]


def test_a_measure_says_what_it_wants() -> None:
    assert (
        Measure("kPa", above=0, at_most=9, example="3").wanted
        == "a number in kPa above 0 up to 9 (such as 3)"
    )
    assert Measure("1").wanted == "a number"
    assert Measure("m", datum=True).wanted == "a number in m above the site datum"
