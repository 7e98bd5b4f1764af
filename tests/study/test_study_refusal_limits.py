"""Where exactly a number is refused because too much of it lies beyond its bound, against scipy.stats."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic_core import PydanticCustomError
from scipy import optimize, stats

from riskcut.study.measure import Measure
from riskcut.study.quantity import Quantity

BELOW = 1e-6
"""Share of a number that may lie below its bound."""
ABOVE = 0.01
"""Share that may lie above its upper bound."""


def read(measure: Measure, given: Any) -> Quantity | list[tuple[tuple[str, ...], str, str]]:
    """Return the quantity, or the faults of it."""
    try:
        return measure.read(given)
    except PydanticCustomError as error:
        return list((error.context or {})["faults"])


def frozen(kind: str, mean: float, sd: float) -> Any:
    """Return scipy's distribution of a mean and a standard deviation, by its own moments."""
    if kind == "normal":
        return stats.norm(mean, sd)
    if kind == "gumbel":
        scale = sd / stats.gumbel_r.std()
        return stats.gumbel_r(mean - scale * stats.gumbel_r.mean(), scale)
    shape = math.sqrt(math.log1p((sd / mean) ** 2))
    return stats.lognorm(shape, scale=mean / stats.lognorm.mean(shape))


@pytest.mark.parametrize("kind", ["normal", "gumbel", "lognormal"])
def test_scipys_distributions_have_the_moments_asked_for(kind: str) -> None:
    assert frozen(kind, 7.0, 2.0).stats() == pytest.approx((7.0, 4.0))


@pytest.mark.parametrize("kind", ["normal", "gumbel"])
@pytest.mark.parametrize("name", ["above", "at_least"])
@settings(deadline=None, max_examples=25)
@given(bound=st.floats(-50, 50), over=st.floats(0.01, 1e4))
def test_the_lower_bound_is_held_to_one_in_a_million(kind: str, name: str, bound: float, over: float) -> None:
    measure = Measure("kPa", **{name: bound})
    mean = bound + over
    limit = over / -frozen(kind, 0.0, 1.0).ppf(BELOW)  # the spread at which the share is BELOW
    assert frozen(kind, mean, limit).cdf(bound) == pytest.approx(BELOW, rel=1e-6)
    inside = read(measure, {"dist": kind, "mean": mean, "sd": limit * (1 - 1e-6)})
    assert isinstance(inside, Quantity)
    assert (inside.kind, inside.value, inside.above, inside.at_least) == (
        kind,
        mean,
        bound if name == "above" else None,
        bound if name == "at_least" else None,
    )
    faults = read(measure, {"dist": kind, "mean": mean, "sd": limit * (1 + 1e-6)})
    assert isinstance(faults, list)
    ((at, given, wanted),) = faults
    assert at == ()
    reach = over / limit
    assert f"a {kind} number with its mean {reach:.1f} sd above {bound:g}, 0.0001 % of it below" == given
    assert "a smaller spread" in wanted


@pytest.mark.parametrize("kind", ["normal", "gumbel", "lognormal"])
@settings(deadline=None, max_examples=25)
@given(mean=st.floats(0.1, 100), most=st.floats(1.05, 1.6))
def test_the_upper_bound_is_held_to_one_in_a_hundred(kind: str, mean: float, most: float) -> None:
    most *= mean
    measure = Measure("kPa", at_most=most)
    limit = optimize.brentq(
        lambda sd: frozen(kind, mean, sd).sf(most) - ABOVE, 1e-3 * mean, 0.4 * mean, xtol=1e-14
    )
    inside = read(measure, {"dist": kind, "mean": mean, "sd": limit * (1 - 1e-6)})
    assert isinstance(inside, Quantity)
    assert inside.kind == kind
    faults = read(measure, {"dist": kind, "mean": mean, "sd": limit * (1 + 1e-6)})
    assert isinstance(faults, list)
    ((at, given, wanted),) = faults
    assert at == ()
    assert given == f"a {kind} number with 1 % of it above {most:g}"
    assert wanted == f"a smaller mean or spread, or low and high up to {most:g}"


@pytest.mark.parametrize(
    ("name", "bound", "good", "bad"),
    [
        ("above", 0.0, [5e-324, 1.0], [0.0, -1.0]),
        ("at_least", 0.0, [0.0, -0.0, 1.0], [-5e-324, -1.0]),
        ("at_most", 60.0, [60.0, -1.0], [float(np.nextafter(60.0, 61.0)), 90.0]),
    ],
)
def test_certain_numbers_and_the_ends_of_a_range_are_held_to_their_bounds(
    name: str, bound: float, good: list[float], bad: list[float]
) -> None:
    measure = Measure("deg", **{name: bound})
    end, other, far = ("high", "low", -1e3) if name == "at_most" else ("low", "high", 1e3)
    for number in good:
        certain, spread = read(measure, number), read(measure, {end: number, other: far})
        assert isinstance(certain, Quantity)
        assert isinstance(spread, Quantity)
        assert (certain.value, spread.parameters[end]) == (number, number)
    for number in bad:
        for number_given, at in (
            (number, ()),
            ({end: number, other: far}, (end,)),
            ({"mean": number, "sd": 1}, ("mean",)),
        ):
            faults = read(measure, number_given)
            assert isinstance(faults, list), number_given
            assert [fault[0] for fault in faults] == [at]
            assert [fault[2] for fault in faults] == [measure.wanted]


@pytest.mark.parametrize("mean", [1e-150, 1e-3, 20.0])
@pytest.mark.parametrize("most", [None, 40.0])
def test_a_lognormal_spread_beyond_reason_is_refused_however_it_is_stated(
    mean: float, most: float | None
) -> None:
    """A spread of many means is a slip of units, and squares of it would not be numbers any more."""
    measure = Measure("kPa", above=0, at_most=most)
    for stated in ({"sd": 3.01 * mean}, {"sd": 1e11}, {"cov": 3.01}):
        faults = read(measure, {"dist": "lognormal", "mean": mean, **stated})
        assert isinstance(faults, list)
        assert [fault[0] for fault in faults] == [tuple(stated)]
    if mean > 1e-6 and most is None:
        accepted = read(measure, {"dist": "lognormal", "mean": mean, "sd": 2.99 * mean})
        assert isinstance(accepted, Quantity)
        assert accepted.sd == 2.99 * mean


def test_numbers_that_are_no_numbers_are_refused_in_every_place() -> None:
    measure = Measure("kPa")
    for bad in (math.nan, math.inf, -math.inf, 2e12, "1e13", True, None, [], "1 m"):
        for stated in (bad, {"mean": bad, "sd": 1}, {"mean": 1, "sd": bad}, {"low": bad, "high": 3e12}):
            assert isinstance(read(measure, stated), list), stated
    assert measure.read(1e12).value == 1e12
