"""The largest of several values: direct powers of the distribution function, and who has none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.uncertainty.marginals import KINDS, MarginalError, make
from riskcut.uncertainty.maxima import MAXIMA, of_maximum

YEARLY = {
    "gumbel": {"mean": 2.0, "sd": 0.4},
    "gev": {"location": 2.0, "scale": 0.3, "shape": -0.12},
    "frechet": {"mean": 2.0, "sd": 0.4},
}


@pytest.mark.parametrize("kind", MAXIMA)
@settings(deadline=None, max_examples=40)
@given(periods=st.floats(1.0, 200.0), p=st.floats(1e-6, 1.0 - 1e-6))
def test_its_distribution_is_the_power_of_the_one_of_a_period(kind: str, periods: float, p: float) -> None:
    yearly = make(kind, **YEARLY[kind])
    longest = of_maximum(yearly, periods)
    assert longest.kind == kind
    x = longest.quantile(np.array([p]))
    assert yearly.cdf(x) ** periods == pytest.approx(p, rel=1e-9, abs=1e-12)


@settings(deadline=None, max_examples=40)
@given(shape=st.floats(-0.9, 0.45), periods=st.floats(1.0, 100.0), level=st.floats(0.5, 6.0))
def test_a_generalised_extreme_value_of_any_shape(shape: float, periods: float, level: float) -> None:
    yearly = make("gev", location=2.0, scale=0.5, shape=shape)
    x = np.array([level])
    powered = yearly.cdf(x) ** periods
    assert of_maximum(yearly, periods).cdf(x) == pytest.approx(powered, rel=1e-7, abs=1e-300)


def test_the_largest_of_simulated_years() -> None:
    rng = np.random.default_rng(8)
    for kind in MAXIMA:
        yearly = make(kind, **YEARLY[kind])
        largest = yearly.from_normal(rng.standard_normal((20_000, 10))).max(axis=1)
        decade = of_maximum(yearly, 10.0)
        error = largest.std() / np.sqrt(len(largest))
        assert abs(largest.mean() - decade.mean) < 4.0 * error
        assert largest.std() == pytest.approx(decade.sd, rel=0.06)


@pytest.mark.parametrize("kind", sorted(set(KINDS) & {"normal", "lognormal", "gamma"}))
def test_a_kind_without_one_is_refused_beyond_one_period(kind: str) -> None:
    marginal = make(kind, mean=3.0, sd=1.0)
    assert of_maximum(marginal, 1.0) is marginal
    with pytest.raises(MarginalError, match=f"{kind}: its maximum over 2 periods is of no kind"):
        of_maximum(marginal, 2.0)
