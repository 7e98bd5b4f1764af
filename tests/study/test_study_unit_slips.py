"""Slips in a unit that must not be read as another number."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.study.units import UnitError, has_unit, to_number


@pytest.mark.parametrize(
    ("text", "unit", "number"),
    [
        ("1.2e-5 1/K", "1/degC", 1.2e-5),
        ("1.2e-5 1 / K", "1/degC", 1.2e-5),
        ("12e-6 1/K", "1/degC", 12e-6),
        ("0.6 1", "1", 0.6),
        ("2 1/year", "1/year", 2.0),
    ],
)
def test_a_one_begins_a_unit_that_divides(text: str, unit: str, number: float) -> None:
    assert to_number(text, unit) == pytest.approx(number, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("2 1 m", "m"),
        ("12 1m", "m"),
        ("3 m 1", "m"),
        ("3 m/1", "m"),
        ("35 1 1 kPa", "kPa"),
        ("35 kPa 1", "kPa"),
        ("5 1^3 m", "m"),
        ("3 1/1 m", "m"),
        ("1 2", "1"),
        ("1 000", "1"),
        ("3 ½ m", "m"),
    ],
)
def test_a_number_in_two_pieces_is_refused(text: str, unit: str) -> None:
    """``2 1 m`` is 2.1 or 21, but not two metres."""
    with pytest.raises(UnitError):
        to_number(text, unit)


@settings(deadline=None, max_examples=60)
@given(
    first=st.integers(0, 999),
    second=st.integers(0, 999),
    unit=st.sampled_from(["m", "kPa", "kN/m3", "kPa/m", "deg", "1"]),
    gap=st.sampled_from([" ", "  ", "\t", "·", "/", ",", "'", "_"]),
)
def test_no_gap_makes_one_number_of_two(first: int, second: int, unit: str, gap: str) -> None:
    with pytest.raises(UnitError):
        to_number(f"{first}{gap}{second} {unit}", unit)


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        *(("35 kpa", "kPa"), ("35 KPa", "kPa"), ("35 kPA", "kPa"), ("6 KN", "kN"), ("6 Kn", "kN")),
        *(("3 MM", "m"), ("3 M", "m"), ("34 Deg", "deg"), ("34 C", "degC"), ("12 celsius", "degC")),
        *(("12 degree_Celsius", "degC"), ("12 fahrenheit", "degC"), ("5 deg/m", "deg"), ("3 dB", "1")),
        *(("19 kN/m2", "kN/m3"), ("19 kN/m", "kPa/m"), ("19 kNm3", "kN/m3"), ("19 kN.m-3", "kN/m3")),
    ],
)
def test_letters_of_the_wrong_size_and_units_of_something_else_are_refused(text: str, unit: str) -> None:
    with pytest.raises(UnitError) as raised:
        to_number(text, unit)
    assert raised.value.unit == text.split(" ", 1)[1]


@pytest.mark.parametrize("wanted", ["m", "kPa", "kN/m3", "kN", "deg", "degC", "1", "year", "1/degC"])
def test_a_text_without_a_unit_is_in_the_wanted_one(wanted: str) -> None:
    for text in ("12", " 12 ", "12.", "+12", "1.2e1", "120E-1"):
        assert to_number(text, wanted) == 12.0
        assert not has_unit(text)


def test_a_change_of_temperature_has_no_offset() -> None:
    """A rise of 20 degrees is 20 K and 36 degrees Fahrenheit; it is no temperature of 293 K."""
    for text in ("20 degC", "20 °C", "20 K", "36 degF", "36 °F"):
        assert to_number(text, "degC") == pytest.approx(20.0)
    assert to_number("0 K", "degC") == 0.0


@pytest.mark.parametrize("number", [0.0, 1e-3, 0.7, 45.0])
def test_an_angle_in_radians_degrees_and_gon(number: float) -> None:
    for unit, whole in (("rad", 2 * math.pi), ("deg", 360.0), ("gon", 400.0), ("turn", 1.0)):
        assert to_number(f"{number * whole / 360!r} {unit}", "deg") == pytest.approx(number, rel=1e-12)
