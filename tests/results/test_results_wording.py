"""No number is said without its error, and none is said wrongly."""

from __future__ import annotations

import math
import re
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.results import wording
from riskcut.results.status import Status
from riskcut.results.wording import probability, reliability_index

NAN, INF = math.nan, math.inf


@pytest.mark.parametrize(
    ("value", "lower", "upper", "text"),
    [
        (1.7e-3, 1.6e-3, 1.8e-3, "1.7e-3 (1.6 to 1.8e-3)"),
        (4.0e-5, 3.8e-5, 4.2e-5, "4.0e-5 (3.8 to 4.2e-5)"),
        (1.0e-3, 9.6e-4, 1.04e-3, "1.00e-3 (9.60e-4 to 1.04e-3)"),
        (1.0e-3, 8.1e-4, 1.24e-3, "1.0e-3 (8.1e-4 to 1.2e-3)"),
        (1.2e-3, 1.0e-3, 1.4e-3, "1.2e-3 (1.0e-3 to 1.4e-3)"),
        (0.034, 0.033, 0.0351, "0.034 (0.033 to 0.035)"),
        (0.99, 0.986, 0.9939, "0.9900 (0.986 to 0.99390)"),
        (0.012, 0.0089, 0.014, "0.012 (8.9e-3 to 0.014)"),
        (0.52, 0.51, 0.53, "0.52 (0.51 to 0.53)"),
        (0.5, 0.499, 0.501, "0.500 (0.499 to 0.501)"),
        (0.9997, 0.9995, 0.99981, "0.99970 (0.99950 to 0.99981)"),
        (0.99997, 0.99995, 0.999981, "1 - 3.0e-5 (1 - 5.0e-5 to 1 - 1.9e-5)"),
        (3e-310, 2e-310, 4e-310, "3.0e-310 (2.0 to 4.0e-310)"),
        (0.0, 0.0, 7.12e-7, "< 7.2e-7 at 95 %"),
        (0.0, 0.0, 7.1e-7, "< 7.1e-7 at 95 %"),
        (1.0, 0.99963, 1.0, "> 0.99963 at 95 %"),
        (0.0, 0.0, 0.99, "< 0.990 at 95 %"),
        (0.2, 0.0, 0.31, "0.20 (below 0.31)"),
        (0.97, 0.955, 1.0, "0.97 (above 0.95)"),
        (0.3, 0.0, 1.0, "0.30 (no bounds)"),
        (0.0, 0.0, 1.0, "not known"),
        (1.0, 0.0, 1.0, "not known"),
    ],
)
def test_a_probability_with_its_interval(value: float, lower: float, upper: float, text: str) -> None:
    assert probability(value, lower, upper) == text


def test_the_zero_count_of_a_full_run() -> None:
    """Of 512 blocks of 8,192 rows none failed: 1 - 0.05^(1/n) is 7.143e-7, said to the careful side."""
    upper = -math.expm1(math.log(0.05) / (512 * 8192))
    assert upper == pytest.approx(7.143e-7, rel=1e-3)
    assert probability(0.0, 0.0, upper, status=Status.UPPER_BOUND_ONLY) == "< 7.2e-7 at 95 %"
    assert probability(NAN, NAN, upper, status=Status.UPPER_BOUND_ONLY) == "< 7.2e-7 at 95 %"
    assert probability(NAN, 1 - upper, NAN, status=Status.UPPER_BOUND_ONLY) == "> 1 - 7.2e-7 at 95 %"
    assert probability(0.0, 0.0, 3e-6, level=0.9) == "< 3.0e-6 at 90 %"


@pytest.mark.parametrize(
    ("status", "value", "text"),
    [
        (Status.NOT_APPLICABLE, NAN, "not applicable"),
        (Status.CANNOT_FAIL, 0.0, "cannot fail"),
        (Status.FIRST_ORDER_ONLY, 7e-10, "7.0e-10, first order"),
        (Status.FIRST_ORDER_ONLY, 0.0, "< 1e-300, first order"),
        (Status.FIRST_ORDER_ONLY, 1.0, "> 1 - 1e-16, first order"),
        (Status.UNTRUSTED, 2e-3, "2.0e-3, untrusted"),
        (Status.UNTRUSTED, NAN, "untrusted"),
        (Status.UPPER_BOUND_ONLY, NAN, "not known"),
    ],
)
def test_a_probability_without_an_interval_says_what_it_is(status: Status, value: float, text: str) -> None:
    assert probability(value, NAN, NAN, status=status) == text


def test_an_untrusted_estimate_keeps_its_interval() -> None:
    assert probability(2e-3, 1.1e-3, 3e-3, status=Status.UNTRUSTED) == "2.0e-3 (1.1 to 3.0e-3), untrusted"


@pytest.mark.parametrize(
    ("value", "lower", "upper"),
    [(0.1, 0.2, 0.3), (0.4, 0.2, 0.3), (-0.1, -0.2, 0.3), (1.1, 0.2, 1.2), (NAN, 0.1, 0.2)],
)
def test_what_is_no_estimate_is_not_said(value: float, lower: float, upper: float) -> None:
    with pytest.raises(ValueError, match="is no probability between"):
        probability(value, lower, upper)


def test_a_computed_estimate_is_not_shown_without_its_error() -> None:
    with pytest.raises(ValueError, match="not shown without its bounds"):
        probability(0.1, NAN, 0.2)


def number(text: str) -> Decimal:
    """Read a number as a reader would."""
    rest = re.fullmatch(r"1 - (\S+)", text)
    return 1 - Decimal(rest.group(1)) if rest else Decimal(text)


def read(text: str) -> tuple[Decimal, Decimal, Decimal]:
    """Read value, lower and upper bound; a lower bound without an exponent has the upper one's."""
    middle, first, last = re.fullmatch(r"(.+) \((.+) to (.+)\)", text).groups()  # type: ignore[union-attr]
    power = re.search(r"e-\d+$", last)
    if power and "1 -" not in last and re.fullmatch(r"\d\.\d+", first):
        first += power.group()
    return number(middle), number(first), number(last)


magnitude = st.one_of(
    st.floats(0.0, 1.0),
    st.floats(-300.0, 0.0).map(lambda e: 10.0**e),
    st.floats(-16.0, 0.0).map(lambda e: 1 - 10.0**e),
    st.floats(0.009, 0.011),
    st.floats(0.989, 0.991),
    st.floats(0.9998, 1.0),
)


@settings(deadline=None, max_examples=600)
@given(st.tuples(magnitude, magnitude, magnitude).map(sorted))
def test_any_probability_reads_in_order_and_near_its_value(ordered: list[float]) -> None:
    lower, value, upper = ordered
    text = probability(value, lower, upper)
    alone = re.split(r"[ ()<>]+", text)
    assert "0" not in alone
    assert not re.search(r"(^|[(<>] ?|to )1(\)| at|$)", text), "never certain"
    assert not re.search(r"(^|[^.\d])[01]\.0+($|[ )])", text)
    if re.fullmatch(r".+ \(.+ to .+\)", text):
        assert 0 < value < 1
        said, low, high = read(text)
        assert 0 < low <= said <= high < 1
        for shown, true in ((said, value), (low, lower), (high, upper)):
            exact = Decimal(repr(true))
            small = exact if exact < Decimal("0.99") else 1 - exact  # near 1 by what is left
            assert abs(shown - exact) <= small / 20 * Decimal("1.001"), "two digits at least"
    elif text.startswith("<"):
        assert value == 0
        assert number(text[2:].removesuffix(" at 95 %")) >= Decimal(repr(upper))
    elif text.startswith(">"):
        assert value == 1
        assert number(text[2:].removesuffix(" at 95 %")) <= Decimal(repr(lower))


@settings(deadline=None, max_examples=200)
@given(st.floats(1e-9, 0.999), st.floats(0.002, 0.5))
def test_an_interval_that_has_a_width_shows_it(value: float, width: float) -> None:
    """Down to two parts in a thousand the bounds are told from the estimate."""
    lower, upper = value * (1 - width), min(value * (1 + width), (1 + value) / 2)
    if min(upper - value, value - lower) > 2e-3 * value:
        said, low, high = read(probability(value, lower, upper))
        assert low < said < high


@pytest.mark.parametrize(
    ("args", "text"),
    [
        ((2.93, 2.91, 2.95), "2.93 (2.91 to 2.95)"),
        ((2.93, 2.928, 2.9316), "2.930 (2.928 to 2.932)"),
        ((-0.001, -0.1, 0.1), "0.00 (-0.10 to 0.10)"),
        ((0.2, 0.1, INF), "0.20 (above 0.1)"),
        ((0.2, -INF, 0.31), "0.20 (below 0.4)"),
        ((0.2, -INF, INF), "0.20 (no bounds)"),
    ],
)
def test_a_reliability_index(args: tuple[float, float, float], text: str) -> None:
    assert reliability_index(*args) == text
    assert reliability_index(*args, interval=False) == re.match(r"\S+", f"{args[0]:z.2f}").group()  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("args", "text"),
    [
        ((INF, 4.823, INF), "> 4.8"),
        ((NAN, 4.89, NAN), "> 4.8"),
        ((-INF, -INF, -3.96), "< -3.9"),
        ((NAN, NAN, -3.9), "< -3.9"),
        ((NAN, NAN, NAN), "not known"),
    ],
)
def test_a_one_sided_reliability_index_is_rounded_to_the_careful_side(
    args: tuple[float, float, float], text: str
) -> None:
    assert reliability_index(*args, status=Status.UPPER_BOUND_ONLY) == text


def test_an_index_that_is_not_computed_says_so() -> None:
    assert reliability_index(NAN, NAN, NAN, status=Status.NOT_APPLICABLE) == "not applicable"
    assert reliability_index(INF, INF, INF, status=Status.CANNOT_FAIL) == "cannot fail"
    assert reliability_index(6.05, NAN, NAN, status=Status.FIRST_ORDER_ONLY) == "6.05, first order"
    assert reliability_index(NAN, NAN, NAN, status=Status.UNTRUSTED) == "untrusted"
    for bad in ((NAN, 1.0, 2.0), (INF, 1.0, INF), (3.0, 1.0, 2.0)):
        with pytest.raises(ValueError, match="is no reliability index between"):
            reliability_index(*bad)


@settings(deadline=None, max_examples=300)
@given(st.tuples(*[st.floats(-40, 40)] * 3).map(sorted))
def test_any_reliability_index_reads_in_order(ordered: list[float]) -> None:
    lower, value, upper = ordered
    said, low, high = re.fullmatch(
        r"(\S+) \((\S+) to (\S+)\)", reliability_index(value, lower, upper)
    ).groups()  # type: ignore[union-attr]
    assert float(low) <= float(said) <= float(high)
    assert abs(float(said) - value) <= 0.0051
    assert "-0.00" not in (said, low, high)


@pytest.mark.parametrize(
    ("value", "text"),
    [(1.239, "1.24"), (INF, "nothing acts"), (-INF, "-"), (NAN, "-"), (100.4, "> 100"), (-0.001, "0.00")],
)
def test_a_factor_of_safety(value: float, text: str) -> None:
    assert wording.factor_of_safety(value) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "none"), (1.0, "all"), (0.644, "64 %"), (0.001, "< 1 %"), (0.999, "> 99 %"), (0.01, "1 %")],
)
def test_a_share(value: float, text: str) -> None:
    assert wording.share(value) == text


def test_a_share_outside_0_and_1_is_refused() -> None:
    for value in (-0.1, 1.01, NAN):
        with pytest.raises(ValueError, match="is no share"):
            wording.share(value)


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (3100.0, "kN", "3,100 kN"),
        (12345.6, "kN", "12,300 kN"),
        (999.6, "kPa", "1,000 kPa"),
        (0.01234, "1", "0.0123"),
        (-9.8, "m", "-9.80 m"),
        (0.0, "m", "0 m"),
        (1.5e-5, "m/s", "1.50e-05 m/s"),
        (2.1e8, "kPa", "2.10e+08 kPa"),
        (NAN, "m", "-"),
    ],
)
def test_a_quantity(value: float, unit: str, text: str) -> None:
    assert wording.quantity(value, unit) == text


def test_names_are_written_for_a_reader() -> None:
    assert wording.in_words("soft_clay") == "soft clay"
    assert wording.limit_state_label("plug_uplift/central_strip") == "plug uplift, central strip"
    assert wording.limit_state_label("plug_uplift") == "plug uplift"
    assert "competent engineer" in wording.CAUTION


def test_what_fails_for_certain_is_said_so():
    nan = float("nan")
    assert probability(nan, 1.0, 1.0, status=Status.UPPER_BOUND_ONLY) == "for certain"
    assert reliability_index(nan, -math.inf, -math.inf, status=Status.UPPER_BOUND_ONLY) == "-"
