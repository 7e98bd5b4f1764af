"""The column table: which random variable stands behind which number, by address, section and stage."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from riskcut.study.block import Number
from riskcut.study.quantity import Quantity
from riskcut.uncertainty.marginal import Marginal
from riskcut.uncertainty.maxima import of_maximum

SHARED = "shared"
"""Last key of the address of the part of a per-stage number that all stages share."""


@dataclass(frozen=True, slots=True)
class Column:
    """One random variable: one draw of one uncertain number."""

    address: str
    """Where the number stands in the study file."""
    section: str
    """Of the draw; empty where all sections share it."""
    stage: str
    """Stage or season of the draw; empty where all stages share it."""
    quantity: Quantity
    driver: int
    """Index of the standard normal variable that it reads. Sections share their ground for now: the same
    number of two sections reads one driver, whatever its distribution in each."""
    periods: float = 1.0
    """Number of the quantity's periods that the stage or season lasts, where that is more than one."""

    @property
    def mean(self) -> float:
        """Return the mean of the draw: of the maximum over its periods, where it is one."""
        return self.quantity.value if self.periods == 1.0 else self.marginal.mean

    @property
    def bound(self) -> tuple[np.ufunc, float] | None:
        """Return how a draw is told that the number cannot be; None where its distribution keeps to what it can."""
        quantity = self.quantity
        if quantity.kind not in ("normal", "gumbel", "gev"):
            return None
        if quantity.above is not None:
            return np.less_equal, quantity.above
        return None if quantity.at_least is None else (np.less, quantity.at_least)

    @property
    def marginal(self) -> Marginal:
        """Return the distribution of the draw: of the maximum over its periods, where it is one."""
        return of_maximum(self.quantity.marginal, self.periods)


@dataclass(frozen=True, slots=True)
class Reading:
    """A number of a block as a constant plus columns: the head, say, is a draw less a drawdown."""

    constant: float
    terms: tuple[tuple[int, float], ...] = ()
    """Column and coefficient."""
    stated: tuple[tuple[str, Quantity, float], ...] = field(default=(), compare=False)
    """The certain numbers of the study that the constant is made of: address, number, coefficient. Readings of the
    same value are the same, wherever it stands."""

    def __add__(self, other: Reading) -> Reading:
        return Reading(self.constant + other.constant, self.terms + other.terms, self.stated + other.stated)

    def __neg__(self) -> Reading:
        terms = tuple((column, -factor) for column, factor in self.terms)
        stated = tuple((address, number, -factor) for address, number, factor in self.stated)
        return Reading(-self.constant, terms, stated)

    def value(self, columns: Mapping[int, Number]) -> Number:
        """Return the number, from the value or the array of values of each column."""
        total: Number = self.constant
        for column, factor in self.terms:
            if factor == 1.0:
                total = (
                    columns[column] if isinstance(total, float) and total == 0.0 else total + columns[column]
                )
            else:
                total = total + factor * columns[column]
        return total


@dataclass(slots=True)
class ColumnTable:
    """Columns as they are met; the same address, section and stage give the same column."""

    columns: list[Column] = field(default_factory=list)
    _index: dict[tuple[str, str, str], int] = field(default_factory=dict)
    _drivers: dict[tuple[str, str], int] = field(default_factory=dict)

    @property
    def drivers(self) -> int:
        """Number of standard normal variables behind the columns."""
        return len(self._drivers)

    def means(self) -> dict[int, Number]:
        """Return the mean of every column so far."""
        return {index: column.mean for index, column in enumerate(self.columns)}

    def read(
        self,
        quantity: Quantity,
        *,
        address: str,
        family: str,
        section: str,
        stage: str,
        drawn: str,
        periods: float = 1.0,
    ) -> Reading:
        """Return how a block reads a number, with a new column where it meets a new draw.

        Parameters
        ----------
        quantity
            The number.
        address
            Where it stands in the file.
        family
            Its address in a section's own tree: the same for all sections.
        section, stage
            Of the block that reads it; ``stage`` is the season where there is one.
        drawn
            How its mapping varies unless the number says otherwise.
        periods
            How many of the quantity's periods the stage or season lasts.
        """
        if not quantity.uncertain:
            return Reading(quantity.value, stated=((address, quantity, 1.0),))
        varies = quantity.varies or drawn
        reader = section
        section = section if varies == "per_section" else ""
        stage = stage if varies == "per_stage" else ""
        lasting = periods if varies == "per_stage" and quantity.period is not None else 1.0
        lasting = max(lasting, 1.0)
        shared_draw = self._index.get((address, section, stage))
        if shared_draw is not None and self.columns[shared_draw].periods != lasting:
            section = reader  # its stage lasts longer or shorter: the same draw of another maximum
        column = self._column(address, family, section, stage, quantity, lasting)
        reading = Reading(0.0, ((column, 1.0),))
        if quantity.shared_sd is not None:
            part = Quantity(
                kind="normal",
                value=0.0,
                sd=quantity.shared_sd,
                unit=quantity.unit,
                basis=quantity.basis,
                source=quantity.source,
            )
            shared = self._column(f"{address}.{SHARED}", f"{family}.{SHARED}", "", "", part, 1.0)
            reading += Reading(0.0, ((shared, 1.0),))
        return reading

    def _column(
        self, address: str, family: str, section: str, stage: str, quantity: Quantity, periods: float
    ) -> int:
        key = (address, section, stage)
        if key not in self._index:
            driver = self._drivers.setdefault((family, stage), len(self._drivers))
            self._index[key] = len(self.columns)
            self.columns.append(Column(address, section, stage, quantity, driver, periods))
        return self._index[key]
