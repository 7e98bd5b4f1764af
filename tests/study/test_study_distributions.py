"""Every distribution that a study may name: moments, bounds, refusals, and the marginal behind it."""

from __future__ import annotations

import math
from typing import Any, get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from pydantic import TypeAdapter, ValidationError
from scipy import stats
from scipy.optimize import brentq

from riskcut.study.families import DISTRIBUTIONS, FITS, SPREAD_KEYS
from riskcut.study.json_schema import study_schema
from riskcut.study.measures import Level, Pressure, Share, Strength, Temperature
from riskcut.study.quantity import Kind, Quantity
from riskcut.uncertainty import marginals

STATED: dict[str, dict[str, Any]] = {
    "normal": {"mean": 30, "sd": 5},
    "lognormal": {"mean": 30, "cov": 0.3},
    "gumbel": {"mean": 30, "sd": 4},
    "uniform": {"low": 20, "high": 40},
    "triangular": {"low": 20, "mode": "28 kPa", "high": 45},
    "truncated_normal": {"parent_mean": 30, "parent_sd": 12, "low": 10, "high": "0.06 MPa"},
    "beta": {"mean": 30, "sd": 6, "low": 10, "high": 60},
    "gamma": {"mean": 30, "cov": 0.4},
    "exponential": {"mean": 30},
    "weibull": {"mean": 30, "sd": 6},
    "gev": {"location": 30, "scale": 3, "shape": -0.1},
    "frechet": {"mean": 30, "cov": "20 %"},
}
DEFINITIONS = study_schema()["$defs"]


def number(given: Any, measure: Any = Strength) -> Quantity:
    quantity: Quantity = TypeAdapter(measure).validate_python(given)
    return quantity


def said(given: Any, measure: Any = Strength) -> list[tuple[tuple[str, ...], str, str]]:
    with pytest.raises(ValidationError) as raised:
        number(given, measure)
    faults: list[tuple[tuple[str, ...], str, str]] = raised.value.errors()[0]["ctx"]["faults"]
    return faults


def in_schema(given: Any, name: str = "Strength") -> bool:
    return Draft202012Validator({"$ref": f"#/$defs/{name}", "$defs": DEFINITIONS}).is_valid(given)


def test_every_distribution_is_stated_here_and_has_a_marginal() -> None:
    assert (
        set(STATED)
        == set(DISTRIBUTIONS)
        == set(marginals.KINDS)
        == set(get_args(Kind)) - {"certain", "empirical"}
    )
    assert set(FITS) - set(DISTRIBUTIONS) == {"empirical"}
    assert {key for must, one_of in DISTRIBUTIONS.values() for key in (*must, *one_of)} == set(SPREAD_KEYS)


@pytest.mark.parametrize("kind", STATED)
def test_the_marginal_has_the_moments_that_the_study_is_read_with(kind: str) -> None:
    given = {"dist": kind, **STATED[kind]}
    quantity = number(given)
    marginal = marginals.make(quantity.kind, **quantity.parameters)
    assert quantity.kind == kind == marginal.kind
    assert quantity.value == pytest.approx(marginal.mean, rel=1e-12)
    assert quantity.sd == pytest.approx(marginal.sd, rel=1e-10)
    assert in_schema(given)


@pytest.mark.parametrize("kind", ["triangular", "truncated_normal", "beta", "exponential", "gev"])
def test_other_keys_than_those_of_a_normal_or_uniform_number_want_dist(kind: str) -> None:
    assert said(STATED[kind])
    assert not in_schema(STATED[kind])


def test_a_key_of_another_distribution_is_told() -> None:
    assert said({"low": 20, "mode": 30, "high": 40}) == [(("mode",), "mode without dist", "dist: triangular")]
    ((at, given, wanted),) = said({"dist": "gev", "location": 3, "scale": 1, "shape": 0, "mean": 4})
    assert (at, given) == (("mean",), "mean for a gev number")
    assert wanted == "location and scale and shape"
    ((_, given, wanted),) = said({"dist": "beta", "mean": 3, "low": 1, "high": 5})
    assert given == "a beta number without sd or cov"
    ((at, _, wanted),) = said({"dist": "triangular", "low": 20, "moed": 30, "high": 40})
    assert at == ("moed",)
    assert "did you mean mode" in wanted


@pytest.mark.parametrize(
    ("given", "at", "words"),
    [
        ({"dist": "triangular", "low": 20, "mode": 50, "high": 40}, "mode", "a number from low to high"),
        ({"dist": "triangular", "low": 50, "mode": 50, "high": 40}, "high", "a number above low"),
        ({"dist": "beta", "mean": 50, "sd": 5, "low": 10, "high": 40}, "mean", "between low and high"),
        ({"dist": "beta", "mean": 20, "sd": 15, "low": 10, "high": 40}, "sd", "an sd up to 13."),
        ({"dist": "beta", "mean": 20, "cov": 1e-7, "low": 10, "high": 40}, "cov", "an sd from 0.0001"),
        ({"dist": "gamma", "mean": 20, "cov": 0.001}, "cov", "0.005 times the mean or more, or dist: normal"),
        ({"dist": "gamma", "mean": 20, "sd": 70}, "sd", "up to 3 times the mean for a gamma number"),
        ({"dist": "weibull", "mean": 20, "sd": 0}, "sd", "a certain number is written by itself"),
        ({"dist": "frechet", "mean": 20, "cov": 0}, "cov", "a certain number is written by itself"),
        ({"dist": "gev", "location": 20, "scale": 0, "shape": 0.1}, "scale", "a certain number is written"),
        ({"dist": "gev", "location": 20, "scale": 1, "shape": 0.5}, "shape", "from -1 to below 0.5"),
        ({"dist": "gev", "location": 20, "scale": 1, "shape": -2}, "shape", "from -1 to below 0.5"),
        (
            {"dist": "truncated_normal", "parent_mean": 20, "parent_sd": 0, "low": 1, "high": 40},
            "parent_sd",
            "certain",
        ),
        (
            {"dist": "truncated_normal", "parent_mean": 20, "parent_sd": 1, "low": 40, "high": 50},
            "",
            "within 10",
        ),
        (
            {"dist": "truncated_normal", "parent_mean": 20, "parent_sd": 9, "low": 20, "high": 20.000001},
            "high",
            "uniform",
        ),
        ({"dist": "triangular", "low": 0, "mode": 20, "high": 40}, "low", "above 0"),
    ],
)
def test_refusals(given: dict[str, Any], at: str, words: str) -> None:
    ((where, _, wanted),) = said(given)
    assert where == ((at,) if at else ())
    assert words in wanted


@pytest.mark.parametrize("kind", ["gamma", "exponential", "weibull", "frechet"])
def test_a_mean_above_zero(kind: str) -> None:
    given = {"dist": kind, "mean": -4, "sd": 1}
    if kind == "exponential":
        del given["sd"]
    assert (("mean",), "-4", f"a mean above 0 for a {kind} number") in said(given, Temperature)


def test_a_generalised_extreme_value_within_bounds() -> None:
    # F(0) = exp(-exp(location/scale)) for shape 0: 1e-6 where location/scale is ln(ln(1e6)) = 2.626
    assert number({"dist": "gev", "location": 2.63, "scale": 1, "shape": 0}, Pressure).kind == "gev"
    ((at, given, wanted),) = said({"dist": "gev", "location": 2.62, "scale": 1, "shape": 0}, Pressure)
    assert at == ()
    assert "a gev number with 0.00011 % of it below 0" in given
    assert "dist: frechet" in wanted
    # ends at location - scale/shape = 0
    assert number({"dist": "gev", "location": 10, "scale": 2, "shape": 0.2}, Pressure).own[0] == (
        "location",
        10,
    )
    assert number({"dist": "gev", "location": -3, "scale": 2, "shape": -0.2}, Level).value < -1
    ((_, given, _),) = said({"dist": "gev", "location": 0.8, "scale": 0.1, "shape": 0}, Share)
    assert "of it above 1" in given


def peer(kind: str, mean: float, cov: float) -> Any:
    """Return scipy's distribution of that mean and coefficient of variation."""
    sd = cov * mean
    if kind == "lognormal":
        log_sd = math.sqrt(math.log1p(cov**2))
        return stats.lognorm(log_sd, scale=mean * math.exp(-(log_sd**2) / 2))
    if kind in ("weibull", "frechet"):
        family, least = {"weibull": (stats.weibull_min, 0.2), "frechet": (stats.invweibull, 2.001)}[kind]
        shape = brentq(lambda c: family(c).std() / family(c).mean() - cov, least, 80.0)
        return family(shape, scale=mean / family(shape).mean())
    scale = sd * math.sqrt(6) / math.pi
    return {
        "normal": lambda: stats.norm(mean, sd),
        "gumbel": lambda: stats.gumbel_r(mean - 0.5772156649015329 * scale, scale),
        "gamma": lambda: stats.gamma(1 / cov**2, scale=mean * cov**2),
    }[kind]()


@pytest.mark.parametrize("kind", ["normal", "gumbel", "lognormal", "gamma", "weibull", "frechet"])
@settings(deadline=None, max_examples=25)
@given(mean=st.floats(0.3, 0.99), cov=st.floats(0.03, 0.2))
def test_a_share_is_refused_where_more_than_a_hundredth_lies_above_one(
    kind: str, mean: float, cov: float
) -> None:
    reference = peer(kind, mean, cov)
    above, below = float(reference.sf(1.0)), float(reference.cdf(0.0))
    if abs(above - 0.01) < 1e-6 or abs(below - 1e-6) < 1e-9:
        return
    given = {"dist": kind, "mean": mean, "cov": cov}
    if above < 0.01 and below < 1e-6:
        assert number(given, Share).value == pytest.approx(mean, rel=1e-12)
        return
    words = " ".join(fault[1] for fault in said(given, Share))
    assert (f"with {100 * above:.2g} % of it above 1" in words) == (above > 0.01)
    assert (f"{100 * below:.2g} % of it below" in words) == (below > 1e-6)


@pytest.mark.parametrize("kind", ["gamma", "weibull", "frechet"])
def test_a_share_of_one_at_most(kind: str) -> None:
    assert number({"dist": kind, "mean": 0.5, "cov": 0.15}, Share).kind == kind
    ((_, given, _),) = said({"dist": kind, "mean": 0.9, "cov": 0.3}, Share)
    assert f"a {kind} number with" in given
    assert "of it above 1" in given


KEYS = st.sampled_from([*SPREAD_KEYS, "dist", "zz"])
VALUES = st.one_of(
    st.integers(-3, 60),
    st.floats(-5, 100),
    st.sampled_from([*STATED, "5 kPa", "1", "20 %"]),
    st.none(),
    st.booleans(),
)


@settings(deadline=None, max_examples=300)
@given(
    kind=st.sampled_from(sorted(STATED)),
    changed=st.dictionaries(KEYS, VALUES, max_size=3),
    dropped=st.sets(st.sampled_from(SPREAD_KEYS), max_size=1),
)
def test_whatever_is_read_can_be_drawn_from(kind: str, changed: dict[str, Any], dropped: set[str]) -> None:
    given = {"dist": kind, **STATED[kind], **changed}
    given = {key: value for key, value in given.items() if key not in dropped}
    try:
        quantity = number(given)
    except ValidationError as error:
        faults = error.errors()[0]["ctx"]["faults"]
        assert faults
        assert len(set(faults)) == len(faults), "told once"
        assert all(words and wanted and "\n" not in words + wanted for _, words, wanted in faults)
        return
    assert in_schema(given), "the schema refuses less than riskcut"
    marginal = marginals.make(quantity.kind, **quantity.parameters)
    assert marginal.mean == pytest.approx(quantity.value, rel=1e-8)
    assert marginal.sd == pytest.approx(quantity.sd, rel=1e-6)
    x = marginal.from_normal(np.array([-3.0, 0.0, 3.0]))
    assert np.all(np.isfinite(x))
    assert x[0] <= x[1] <= x[2]
    assert 0 < quantity.sd < math.inf
