"""What a number of the schema measures, and how it is read from what the writer gave."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from pydantic_core import PydanticCustomError, core_schema

from riskcut.study.errors import nearest, shown
from riskcut.study.number_entries import Files, no_files
from riskcut.study.quantity import Quantity
from riskcut.study.uncertain import Uncertain
from riskcut.study.units import FAMILIAR, UnitError, to_number

MOST = 1e12
"""No number of a cut is larger, in any of the study's units."""

At = tuple[str, ...]
"""Keys from a number to the part of it that is at fault; empty for the number itself."""


@dataclass(frozen=True, slots=True)
class Measure:
    """A unit, bounds and an example, by which a number of the schema is read."""

    unit: str
    above: float | None = None
    at_least: float | None = None
    at_most: float | None = None
    example: str = ""
    datum: bool = False
    """Whether it is counted from a datum that is a convention, so that its ratio to anything says nothing."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        """Let pydantic read the field by :meth:`read`; the context of validation is the study's data files."""

        def read(given: Any, info: core_schema.ValidationInfo[Any]) -> Quantity:
            return self.read(given, info.context or no_files)

        return core_schema.with_info_plain_validator_function(read)

    @property
    def least(self) -> float | None:
        """The lower bound, whether or not it may be met."""
        return self.above if self.above is not None else self.at_least

    @property
    def wanted(self) -> str:
        """What a writer may put here, in words."""
        unit = "" if self.unit == "1" else f" in {self.unit}"
        unit += " above the site datum" if self.datum else ""
        bounds = [
            f"{word} {value:g}"
            for word, value in (("above", self.above), ("from", self.at_least), ("up to", self.at_most))
            if value is not None
        ]
        bound = " " + " ".join(bounds) if bounds else ""
        example = f" (such as {self.example})" if self.example else ""
        return f"a number{unit}{bound}{example}"

    def read(self, given: Any, files: Files = no_files) -> Quantity:
        """Return the quantity, or raise pydantic's error with every fault of it in ``ctx['faults']``."""
        if isinstance(given, Quantity):
            return given
        faults: list[tuple[At, str, str]] = []
        certain = not isinstance(given, dict)
        quantity = self._certain(given, faults) if certain else Uncertain(self, given, faults, files).read()
        if faults or quantity is None:
            raise PydanticCustomError("quantity", "not a quantity", {"faults": faults})
        return quantity

    def number(self, given: Any, at: At, faults: list[tuple[At, str, str]], unit: str, wanted: str) -> float:
        """Return a float in ``unit``; note a fault and return NaN where there is none."""
        try:
            value = to_number(given, unit)
        except UnitError as error:
            hint = ""
            near = nearest(error.unit.lower(), [name.lower() for name in FAMILIAR]) if error.unit else None
            if near is not None:
                meant = next(name for name in FAMILIAR if name.lower() == near)
                hint = f"; did you mean {meant}?" if meant != error.unit else ""
            faults.append((at, shown(given), wanted + hint))
            return math.nan
        if abs(value) > MOST:
            faults.append((at, shown(given), wanted))
            return math.nan
        return value

    def bounded(self, given: Any, at: At, faults: list[tuple[At, str, str]]) -> float:
        """Return a float in this measure's unit and within its bounds; note a fault and return NaN else."""
        value = self.number(given, at, faults, self.unit, self.wanted)
        if not math.isnan(value) and not self.holds(value):
            faults.append((at, shown(given), self.wanted))
            return math.nan
        return value

    def holds(self, value: float) -> bool:
        """Whether a number lies within the bounds."""
        low = self.above is not None and value <= self.above
        low = low or (self.at_least is not None and value < self.at_least)
        return not low and (self.at_most is None or value <= self.at_most) and abs(value) <= MOST

    def _certain(self, given: Any, faults: list[tuple[At, str, str]]) -> Quantity:
        value = self.bounded(given, (), faults)
        return Quantity(kind="certain", value=value, unit=self.unit, above=self.above, at_least=self.at_least)
