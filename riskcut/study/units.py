"""Units at the door: text such as ``35 kPa`` to a float in the study's own unit."""

from __future__ import annotations

import re
from functools import cache
from typing import Any

NUMBER_AND_UNIT = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*$")
FACTOR = re.compile(r"(1|[A-Za-zµ%°]+)(?:\^?([-+]?[1-9]))?")
"""One factor of a unit, a name and a power of one digit; ``1`` begins units such as ``1/degC``."""

MINUS = "\N{MINUS SIGN}"
SPELLINGS = str.maketrans({MINUS: "-", "·": " ", "*": " ", "¹": "1", "²": "2", "³": "3", "⁻": "-", "μ": "µ"})
"""Signs that mean the same: minus, product, powers, the two Unicode letters for micro."""

PINT_NAMES = {
    "1": "dimensionless",
    "degC": "delta_degC",
    "degF": "delta_degF",
    "°C": "delta_degC",
    "°F": "delta_degF",
    "°": "degree",
    "%": "percent",
}
"""Names that pint spells otherwise; a temperature here is always a change."""

FAMILIAR = (
    "kPa",
    "MPa",
    "GPa",
    "kN",
    "MN",
    "kN/m3",
    "kPa/m",
    "m",
    "mm",
    "m2",
    "deg",
    "degC",
    "years",
    "months",
)
"""Units that a misspelt one may have meant."""


class UnitError(ValueError):
    """Text that holds no number, or a unit that does not fit."""

    unit: str = ""
    """The unit that is unknown or of another dimension; empty where it is the number that is missing."""


def _misfit(unit: str) -> UnitError:
    error = UnitError(f"unit {unit}")
    error.unit = unit
    return error


@cache
def _registry() -> Any:
    """Return pint's registry, made at the first unit that needs it (it takes a third of a second)."""
    from pint import UnitRegistry

    return UnitRegistry(cache_folder=None)


def _factors(unit: str) -> list[tuple[str, int]]:
    """Return the names and powers that a unit is written with: ``kN/m^3`` and ``kN m-3`` alike.

    Only names, powers, products and quotients are read, so that no text is ever evaluated.
    """
    text = re.sub(r"\bper\s?cent\b", "%", unit.replace("**", "^").translate(SPELLINGS))
    text = re.sub(r"\bper\b", "/", text)
    factors = []
    sign = 1
    parts = re.findall(r"/|[^\s/]+", text)
    for index, part in enumerate(parts):
        if part == "/":
            if sign < 0:
                raise _misfit(unit)
            sign = -1
            continue
        match = FACTOR.fullmatch(part)
        if match is None or (match[1] == "1" and (match[2] or index or parts[1:2] not in ([], ["/"]))):
            raise _misfit(unit)  # a 1 anywhere else is a slip: ``2 1 m`` is not two metres
        factors.append((match[1], sign * int(match[2] or 1)))
        sign = 1
    if sign < 0 or not factors:
        raise _misfit(unit)
    return factors


def _in_base_units(unit: str) -> Any:
    """Return one of a unit in pint's base units."""
    import pint

    registry = _registry()
    product = registry.Quantity(1.0, "dimensionless")
    for name, power in _factors(unit):
        try:
            product = (
                product * registry.Quantity(1.0, registry.parse_units(PINT_NAMES.get(name, name))) ** power
            )
        except (pint.PintError, ValueError, TypeError, KeyError, AttributeError):
            raise _misfit(unit) from None
    try:
        return product.to_base_units()
    except (pint.PintError, ArithmeticError):
        raise _misfit(unit) from None


@cache
def _factor(unit: str, wanted: str) -> float:
    """Return what a number in ``unit`` is multiplied by to be in ``wanted``."""
    if unit == wanted:
        return 1.0
    given, target = _in_base_units(unit), _in_base_units(wanted)
    # The base units are compared rather than the dimensions: pint counts an angle as dimensionless,
    # and 34 % is no angle of friction.
    if given.units != target.units:
        raise _misfit(unit)
    return float(given.magnitude / target.magnitude)


def has_unit(given: str) -> bool:
    """Whether a text is a number with a unit after it."""
    match = NUMBER_AND_UNIT.fullmatch(given)
    return match is not None and bool(match[2])


def to_number(given: object, wanted: str) -> float:
    """Return a number in the wanted unit.

    Parameters
    ----------
    given
        A number (already in the wanted unit) or text such as ``35 kPa``, ``35``, ``7 kN m-3``.
    wanted
        The unit, one of our own names: ``m``, ``kPa``, ``kN/m3``, ``deg``, ``degC``, ``1``, ``year`` ...

    Raises
    ------
    UnitError
        Where there is no finite number, or its unit is unknown or of another dimension.
    """
    if isinstance(given, bool) or not isinstance(given, int | float | str):
        raise UnitError("no number")
    if isinstance(given, str):
        match = NUMBER_AND_UNIT.fullmatch(given.replace(MINUS, "-"))
        if match is None:
            raise UnitError("no number")
        value = float(match[1])
        if match[2]:
            value *= _factor(match[2], wanted)
    else:
        try:
            value = float(given)
        except OverflowError:
            raise UnitError("no finite number") from None
    if not abs(value) < float("inf"):
        raise UnitError("no finite number")
    return value
