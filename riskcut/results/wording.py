"""How a number of the results is said: one wording for figures, report and command line.

A probability is never shown without its error. A zero count is never ``0`` and a full one never ``1``:
they are one-sided statements, ``< 7.2e-7 at 95 %``, rounded to the careful side.
"""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Context, Decimal

from riskcut.results.status import Status

CAUTION = (
    "These results support the judgement of a competent engineer; local codes and licensed practice decide. "
    "They are not to be the sole basis for any work near an excavation."
)

_SMALL = 0.01
"""Below this a probability is written with an exponent."""
_NEARLY_SURE = Decimal("1e-4")
"""When less than this is left to certainty, what is left is written out."""
_MOST_DIGITS = 4
_DOUBTS = {Status.FIRST_ORDER_ONLY: "first order", Status.UNTRUSTED: "untrusted"}
_INSTEAD = {Status.NOT_APPLICABLE: "not applicable", Status.CANNOT_FAIL: "cannot fail"}
UNKNOWN = "not known"
CERTAIN = "for certain"
"""Of a margin that no uncertain input enters, and that is negative."""


def probability(
    value: float, lower: float, upper: float, *, status: Status = Status.COMPUTED, level: float = 0.95
) -> str:
    """Write a probability with its interval.

    Parameters
    ----------
    value, lower, upper
        Estimate and bounds, ``lower <= value <= upper``. ``value`` may be NaN under
        ``upper_bound_only``, any of them under ``first_order_only`` and ``untrusted``, all under
        ``not_applicable`` and ``cannot_fail``.
    status
        Of the estimate.
    level
        Confidence level of the bounds.

    Returns
    -------
    str
        ``1.7e-3 (1.6 to 1.8e-3)``; ``< 7.2e-7 at 95 %`` for a zero count; ``> 0.9996 at 95 %`` where
        every row failed. Two significant digits, or more (four at most) to tell the bounds from the estimate.

    Raises
    ------
    ValueError
        Not a probability, or not between its bounds, or a computed estimate without bounds.
    """
    if status in _INSTEAD:
        return _INSTEAD[status]
    if status in _DOUBTS and math.isnan(value):
        return _DOUBTS[status]
    if status is Status.UPPER_BOUND_ONLY and lower == 1:
        return CERTAIN
    if status is Status.UPPER_BOUND_ONLY and math.isnan(value):
        value = 1.0 if lower > 0 else 0.0
    bounded = status is Status.UPPER_BOUND_ONLY or not (math.isnan(lower) or math.isnan(upper))
    if not bounded and status is Status.COMPUTED:
        raise ValueError("a computed probability is not shown without its bounds")
    low, high = (0.0 if math.isnan(lower) else lower), (1.0 if math.isnan(upper) else upper)
    if not 0 <= low <= value <= high <= 1:
        raise ValueError(f"{value!r} is no probability between {lower!r} and {upper!r}")
    said = _probability(value, low, high, bounded, level)
    return f"{said}, {_DOUBTS[status]}" if status in _DOUBTS else said


def _probability(value: float, lower: float, upper: float, bounded: bool, level: float) -> str:
    at = f" at {100 * level:g} %"
    if value == 0:
        if not bounded:
            return "< 1e-300"
        return UNKNOWN if upper == 1 else f"< {_one(upper, 2, ROUND_CEILING)}{at}"
    if value == 1:
        if not bounded:
            return "> 1 - 1e-16"
        return UNKNOWN if lower == 0 else f"> {_one(lower, 2, ROUND_FLOOR)}{at}"
    if not bounded:
        return _one(value, 2)
    if lower == 0 or upper == 1:
        if lower == 0 and upper == 1:
            return f"{_one(value, 2)} (no bounds)"
        careful = ("below", upper, ROUND_CEILING) if lower == 0 else ("above", lower, ROUND_FLOOR)
        side = f"{careful[0]} {_one(careful[1], 2, careful[2])}"
        return f"{_one(value, 2)} ({side})"
    for digits in range(2, _MOST_DIGITS + 1):
        a, b, c = (_shown(p, digits) for p in (lower, value, upper))
        if (a < b or lower == value) and (b < c or value == upper):
            break
    first, middle, last = (_one(p, digits) for p in (lower, value, upper))
    return f"{middle} ({_without_power(first, last)} to {last})"


def _without_power(first: str, last: str) -> str:
    """Leave out the first number's power of ten where the last has the same; never down to a bare 1.0."""
    mantissa, mark, power = first.partition("e")
    shared = mark and last.endswith(mark + power) and "1 -" not in first + last
    return mantissa if shared and float(mantissa) != 1 else first


def _one(p: float, digits: int, rounding: str = ROUND_HALF_EVEN) -> str:
    """Write one probability strictly between 0 and 1."""
    shown = _shown(p, digits, rounding)
    if p < _SMALL:
        return f"{shown:.{digits - 1}e}"
    if p < 1 - _SMALL:
        return f"{shown:.{digits - 1 - shown.adjusted()}f}"
    rest = 1 - shown
    if rest < _NEARLY_SURE:
        return f"1 - {rest:.{digits - 1}e}"
    return f"{shown:.{digits - 1 - rest.adjusted()}f}"


def _shown(p: float, digits: int, rounding: str = ROUND_HALF_EVEN) -> Decimal:
    """Return the number that a probability is shown as: never smaller for a larger one.

    Near 1 it is what is left to certainty that has the significant digits.
    """
    exact = _decimal(p)
    if p < 1 - _SMALL:
        return _round(exact, digits, rounding)
    opposite = {ROUND_CEILING: ROUND_FLOOR, ROUND_FLOOR: ROUND_CEILING}.get(rounding, rounding)
    return 1 - _round(1 - exact, digits, opposite)


def _round(x: Decimal, digits: int, rounding: str) -> Decimal:
    return Context(prec=digits, rounding=rounding).plus(x)


def _decimal(x: float) -> Decimal:
    """Take a float for the shortest decimal that stands for it: 0.1, not 0.1000000000000000055."""
    return Decimal(repr(float(x)))


def reliability_index(
    value: float, lower: float, upper: float, *, status: Status = Status.COMPUTED, interval: bool = True
) -> str:
    """Write a reliability index, with its interval unless that stands beside it already.

    Parameters
    ----------
    value, lower, upper
        Estimate and bounds; infinite or NaN where only one bound is known.
    status
        Of the estimate.
    interval
        Whether to add the bounds.

    Returns
    -------
    str
        ``2.93 (2.91 to 2.95)``; ``> 4.8`` where no row failed (the lower bound, rounded down);
        ``< -3.9`` where every row failed.

    Raises
    ------
    ValueError
        Not between its bounds, or a computed index that is no finite number.
    """
    if status in _INSTEAD:
        return _INSTEAD[status]
    if status in _DOUBTS:
        return f"{value:z.2f}, {_DOUBTS[status]}" if math.isfinite(value) else _DOUBTS[status]
    if status is Status.UPPER_BOUND_ONLY:
        if upper == -math.inf:
            return "-"
        if math.isfinite(lower) and not value < lower:
            return f"> {_tenth(lower, ROUND_FLOOR)}"
        if math.isfinite(upper) and not value > upper:
            return f"< {_tenth(upper, ROUND_CEILING)}"
        return UNKNOWN
    if not (math.isfinite(value) and lower <= value <= upper):
        raise ValueError(f"{value!r} is no reliability index between {lower!r} and {upper!r}")
    if not interval:
        return f"{value:z.2f}"
    if math.isinf(lower) or math.isinf(upper):
        sides = [f"above {_tenth(lower, ROUND_FLOOR)}"] if math.isfinite(lower) else []
        sides += [f"below {_tenth(upper, ROUND_CEILING)}"] if math.isfinite(upper) else []
        return f"{value:z.2f} ({sides[0] if sides else 'no bounds'})"
    for decimals in range(2, _MOST_DIGITS + 1):
        first, middle, last = (f"{b:z.{decimals}f}" for b in (lower, value, upper))
        if (first != middle or lower == value) and (middle != last or value == upper):
            break
    return f"{middle} ({first} to {last})"


def _tenth(x: float, rounding: str) -> str:
    return f"{_decimal(x).quantize(Decimal('0.1'), rounding=rounding):z.1f}"


def factor_of_safety(value: float) -> str:
    """Write a factor of safety: ``1.24``, ``> 100``, ``nothing acts`` where it is infinite, ``-`` for NaN."""
    if math.isnan(value):
        return "-"
    if math.isinf(value):
        return "nothing acts" if value > 0 else "-"
    return "> 100" if value > 100 else f"{value:z.2f}"


def share(value: float) -> str:
    """Write a share of rows or of variance: ``64 %``, ``< 1 %``, ``none``, ``all``."""
    if not 0 <= value <= 1:
        raise ValueError(f"{value!r} is no share")
    if value in (0, 1):
        return "all" if value else "none"
    if value < 0.01:
        return "< 1 %"
    return "> 99 %" if value > 0.99 else f"{100 * value:.0f} %"


def quantity(value: float, unit: str = "") -> str:
    """Write a quantity with three significant digits and its unit: ``3,100 kN``, ``0.0123``."""
    if not math.isfinite(value):
        return "-"
    if value == 0:
        number = "0"
    elif not 1e-3 <= abs(value) < 1e7:
        number = f"{value:.2e}"
    else:
        rounded = Context(prec=3).create_decimal_from_float(value)
        number = f"{rounded:,.{max(2 - rounded.adjusted(), 0)}f}"
    return number if unit in ("", "1") else f"{number} {unit}"


def in_words(name: str) -> str:
    """Write a name of the study or the catalogue for a reader: ``soft_clay`` as ``soft clay``."""
    return name.replace("_", " ")


def limit_state_label(limit_state: str) -> str:
    """Write ``plug_uplift/central_strip`` as ``plug uplift, central strip``."""
    mechanism, _, member = limit_state.partition("/")
    return f"{in_words(mechanism)}, {in_words(member)}" if member else in_words(mechanism)
