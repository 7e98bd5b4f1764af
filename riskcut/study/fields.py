"""The entries of the schema that are not numbers with a unit: words, names, durations, indices.

Each is read by a function that says what is wanted in the words of the trade; pydantic's own words
for a wrong type would mean little to the writer of a study.
"""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import BeforeValidator
from pydantic_core import PydanticCustomError

from riskcut.study.errors import near_matches
from riskcut.study.units import UnitError, has_unit, to_number

NAME = re.compile(r"[a-z][a-z0-9_]*")
A_NAME = "a name of small letters, digits and underscores that begins with a letter"
RATE = re.compile(r"(\d*\.?\d+(?:[eE][-+]?\d+)?)\s*(?:per|/)\s*(year|month|week|day)")
MOST_COUNTED = 100
"""More wells or pumps than this are no number of single ones."""
PERIODS = ("stage", "1 year", "50 years")


def _refuse(wanted: str) -> PydanticCustomError:
    return PydanticCustomError("wanted", "{wanted}", {"wanted": wanted})


def _text(given: Any) -> str:
    if not isinstance(given, str) or not given.strip():
        raise _refuse("a text")
    return given.strip()


def _name(given: Any) -> str:
    if not isinstance(given, str) or not given.strip():
        raise _refuse("a name")
    return given


def _names(given: Any) -> list[str]:
    """Read one name or a list of them."""
    names = [given] if isinstance(given, str) else given
    if not isinstance(names, list) or not all(isinstance(name, str) and name.strip() for name in names):
        raise _refuse("a name or a list of names")
    return names


def _between(given: Any) -> tuple[str, str]:
    names = given if isinstance(given, list) else []
    if len(names) != 2 or not all(isinstance(name, str) and name.strip() for name in names):
        raise _refuse("a list of two addresses, such as [ground.strata.clay.su, water.table]")
    return names[0].strip(), names[1].strip()


def _years(given: Any) -> float:
    """Read a duration such as ``2 months``; a bare number would leave its unit to be guessed."""
    try:
        if isinstance(given, str) and has_unit(given) and 0 < (years := to_number(given, "year")) <= 1e4:
            return years
    except UnitError:
        pass
    raise _refuse('a duration with its unit, such as "2 months" or "50 years"')


def _rate(given: Any) -> float:
    """Read how often something happens, such as ``0.2 per year``."""
    match = RATE.fullmatch(given.strip()) if isinstance(given, str) else None
    if match is not None and 0 < (often := float(match[1])) < 1e3:
        return often / to_number(f"1 {match[2]}", "year")
    raise _refuse('how often it happens, such as "0.2 per year"')


def _yes(given: Any) -> bool:
    if not isinstance(given, bool):
        raise _refuse("true or false")
    return given


def _period(given: Any) -> str:
    if given in PERIODS:
        return str(given)
    hint = near_matches(given, PERIODS) if isinstance(given, str) else ""
    raise _refuse(f"one of {', '.join(PERIODS)}{hint}")


def _between_bounds(low: float, high: float, example: str) -> Any:
    """Return the reader of a plain number between two bounds, themselves left out."""

    def read(given: Any) -> float:
        try:
            if low < (value := to_number(given, "1")) < high:
                return value
        except UnitError:
            pass
        raise _refuse(f"a number above {low:g} and below {high:g} (such as {example})")

    return BeforeValidator(read)


def _count(given: Any) -> int:
    if isinstance(given, bool) or not isinstance(given, int) or not 1 <= given <= MOST_COUNTED:
        raise _refuse(f"a whole number from 1 to {MOST_COUNTED}")
    return given


def _choice(given: Any) -> str | float:
    if isinstance(given, str) and given.strip():
        return given.strip()
    try:
        return to_number(None if isinstance(given, str) else given, "1")
    except UnitError:
        raise _refuse("a word or a number") from None


Text = Annotated[str, BeforeValidator(_text)]
Name = Annotated[str, BeforeValidator(_name)]
"""Whether it is well formed is a rule of its own, so that a bad name hides nothing else."""
Names = Annotated[list[str], BeforeValidator(_names)]
Between = Annotated[tuple[str, str], BeforeValidator(_between)]
Years = Annotated[float, BeforeValidator(_years)]
Rate = Annotated[float, BeforeValidator(_rate)]
"""Times a year."""
Probability = Annotated[float, _between_bounds(0, 1, "1e-3")]
Count = Annotated[int, BeforeValidator(_count)]
Yes = Annotated[bool, BeforeValidator(_yes)]
TargetPeriod = Annotated[str, BeforeValidator(_period)]
Beta = Annotated[float, _between_bounds(0, 10, "3.3")]
Correlation = Annotated[float, _between_bounds(-1, 1, "0.5")]
Choice = Annotated[str | float, BeforeValidator(_choice)]
