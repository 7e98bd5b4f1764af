"""Numbers with units at the door, against pint."""

from __future__ import annotations

import math

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.study.units import UnitError, has_unit, to_number

PINT = pint.UnitRegistry()


@pytest.mark.parametrize(
    "text",
    [
        *("19 kN/m3", "19 kN/m^3", "19 kN/m**3", "19kN/m³", "19 kN m-3", "19 kN m^-3", "19 kN·m-3"),
        *("19 kN m⁻³", "19 kN / m3", "19 kN/m/m/m", "19 kN per m3", "  19   kN/m3 ", "19e3 N/m3"),
        *("0.019 MN/m3", "19 kPa/m"),
    ],
)
def test_one_unit_weight_in_many_spellings(text: str) -> None:
    assert to_number(text, "kN/m3") == pytest.approx(19, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "unit", "number"),
    [
        ("3.2", "m", 3.2),
        ("-3.2 m", "m", -3.2),
        ("\N{MINUS SIGN}3.2 m", "m", -3.2),
        ("+.5 m", "m", 0.5),
        ("1500 mm", "m", 1.5),
        ("2 metres", "m", 2.0),
        ("35 kPa", "kPa", 35.0),
        ("0.035 N/mm2", "kPa", 35.0),
        ("210 GPa", "kPa", 210e6),
        ("6.8 MN", "kN", 6800.0),
        ("2.6 kPa per metre", "kPa/m", 2.6),
        ("34 deg", "deg", 34.0),
        ("34°", "deg", 34.0),
        ("34 degrees", "deg", 34.0),
        (f"{math.pi / 6} rad", "deg", 30.0),
        ("60 %", "1", 0.6),
        ("60 per cent", "1", 0.6),
        ("60 percent", "1", 0.6),
        ("12 degC", "degC", 12.0),
        ("12 °C", "degC", 12.0),
        ("12 K", "degC", 12.0),
        ("9 degF", "degC", 5.0),
        ("12 µm/m/K", "1/degC", 12e-6),
        ("1.2e-5 1/K", "1/degC", 1.2e-5),
        ("1.2e-5 1/degC", "1/degC", 1.2e-5),
        ("1 year", "year", 1.0),
        ("6 months", "year", 0.5),
        ("0.75 m2", "m2", 0.75),
        ("7500 cm^2", "m2", 0.75),
    ],
)
def test_numbers_of_the_trade(text: str, unit: str, number: float) -> None:
    assert to_number(text, unit) == pytest.approx(number, rel=1e-12)


@pytest.mark.parametrize("number", [0, 7, -3, 2.5, 1e-300])
def test_a_plain_number_is_in_the_wanted_unit_already(number: float) -> None:
    assert to_number(number, "kPa") == number


UNITS = {
    "m": ["m", "mm", "cm", "km", "ft", "inch"],
    "kPa": ["Pa", "kPa", "MPa", "GPa", "bar", "psi", "N/mm2", "kN/m2"],
    "kN": ["N", "kN", "MN"],
    "kN/m3": ["kN/m3", "N/m3", "MN/m3", "N/cm3"],
    "kPa/m": ["kPa/m", "MPa/m", "kPa/mm"],
    "year": ["day", "week", "month", "year", "hour"],
    "m2": ["m2", "mm2", "cm2"],
}
PAIRS = [(unit, wanted) for wanted, units in UNITS.items() for unit in units]


@settings(deadline=None, max_examples=150)
@given(
    number=st.floats(-1e9, 1e9, allow_subnormal=False),
    pair=st.sampled_from(PAIRS),
    power=st.sampled_from(["", "^", "**"]),
    space=st.sampled_from(["", " ", "  "]),
)
def test_as_pint_converts_it(number: float, pair: tuple[str, str], power: str, space: str) -> None:
    unit, wanted = pair

    def spelt(name: str, sign: str) -> str:
        return name.replace("2", f"{sign}2").replace("3", f"{sign}3")

    pints = PINT.Quantity(number, spelt(unit, "**")).to(spelt(wanted, "**")).magnitude
    assert to_number(f"{number!r}{space}{spelt(unit, power)}", wanted) == pytest.approx(
        pints, rel=1e-9, abs=1e-300
    )


@settings(deadline=None, max_examples=60)
@given(pair=st.sampled_from(PAIRS), wanted=st.sampled_from(sorted(UNITS)))
def test_a_unit_of_another_dimension_is_refused(pair: tuple[str, str], wanted: str) -> None:
    unit, own = pair
    if PINT.Quantity(1, own.replace("3", "**3").replace("m2", "m**2")).check(
        PINT.Quantity(1, wanted.replace("3", "**3").replace("m2", "m**2")).dimensionality
    ):
        assert to_number(f"1 {unit}", wanted) > 0
    else:
        with pytest.raises(UnitError) as raised:
            to_number(f"1 {unit}", wanted)
        assert raised.value.unit == unit


@pytest.mark.parametrize(
    ("given", "unit"),
    [
        (True, "m"),
        (None, "m"),
        ([1], "m"),
        ({"mean": 1}, "m"),
        ("", "m"),
        ("m", "m"),
        ("two m", "m"),
        (math.inf, "m"),
        (math.nan, "m"),
        ("1e999", "m"),
        (10**400, "m"),
        ("3 - 2 m", "m"),
        ("3,2 m", "m"),
        ("3 m)", "m"),
        ("3 (m)", "m"),
        ("3 m/", "m"),
        ("3 m//m", "m"),
        ("3 m^99999999", "m"),
        ("3 m^0", "m"),
        ("3 [length]", "m"),
        ("3 m # up", "m"),
        ("3 __import__('os')", "m"),
        ("34 %", "deg"),
        ("5 deg", "1"),
        ("30 kn", "kN"),
        ("1 KPA", "kPa"),
        ("2000 kg/m3", "kN/m3"),
        ("12 °C", "m"),
    ],
)
def test_what_is_no_number_of_this_unit_is_refused(given: object, unit: str) -> None:
    with pytest.raises(UnitError):
        to_number(given, unit)


@settings(deadline=None, max_examples=200)
@given(text=st.text(alphabet="0123456789.eE+-*/^() mkNPadegC%°·²³⁻\n\t'\"_#", max_size=20))
def test_no_text_does_more_than_be_refused(text: str) -> None:
    try:
        number = to_number(text, "kPa")
    except UnitError:
        return
    assert math.isfinite(number)


@pytest.mark.parametrize(
    ("text", "has"), [("2 months", True), ("2", False), ("6e-2", False), (" .5 ", False), ("x", False)]
)
def test_whether_a_text_has_a_unit(text: str, has: bool) -> None:
    assert has_unit(text) is has
