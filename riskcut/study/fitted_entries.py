"""An uncertain number whose distribution is had from a column of a data file: fitted, or the data as they are."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache
from typing import Any, cast

from riskcut.study.data_column import DataFault, read_column
from riskcut.study.errors import near_matches, nearest, shown
from riskcut.study.families import DISTRIBUTIONS, EMPIRICAL, FITS, SPREAD_KEYS
from riskcut.study.number_entries import NO_FILE, Entries
from riskcut.study.quantity import FromData, Kind, Quantity
from riskcut.study.units import FAMILIAR, MINUS, UnitError, has_unit, to_number
from riskcut.uncertainty import fitting
from riskcut.uncertainty.empirical import Empirical
from riskcut.uncertainty.marginal import MarginalError

fit = lru_cache(maxsize=64)(fitting.fit)
"""A study is read in several rounds, for each section; the data stay the same."""


class FittedEntries(Entries):
    """Reads a number that says ``fit`` and ``data``."""

    def _fitted(self) -> Quantity | None:
        """Return the number, None where its faults leave none."""
        kind = self._kind_of_fit()
        foreign = [key for key in self.given if key in (*SPREAD_KEYS, "dist")]
        if foreign:
            given = f"fit and {' and '.join(foreign)}"
            self._note(
                foreign[0] if len(foreign) == 1 else "",
                given,
                "fit, which takes all of it from data, or dist with its parameters",
            )
        if "data" not in self.given and not self.unnamed:
            self._note("", "a fit without data", "data: a file, as a path relative to the study")
        column = self._text("column")
        factor = self._factor()
        provenance = self._provenance()
        name = provenance["data"]
        bad_column = "column" in self.given and column is None
        if kind is None or name is None or foreign or bad_column or math.isnan(factor):
            return None
        found = self._values(name, column, factor)
        return None if found is None else self._of_values(kind, *found, provenance)

    def _values(self, name: str, column: str | None, factor: float) -> tuple[str, tuple[float, ...]] | None:
        """Return the name of the column and its numbers; None where they are at fault."""
        content = self.files(name)
        if content is None:
            self._note("data", shown(name), NO_FILE)
            return None

        def read(cell: str) -> float | None:
            try:
                value = to_number(cell, self.measure.unit)
            except UnitError:
                return None
            return value if has_unit(cell.replace(MINUS, "-")) else value * factor

        try:
            header, numbers = read_column(content, column, read)
        except DataFault as fault:
            self._note(fault.key, fault.given, fault.wanted)
            return None
        for line, value in numbers:
            if not self.measure.holds(value):
                self._note("data", f"{value:g} in line {line} of the file", self.measure.wanted)
                return None
        return header, tuple(value for _, value in numbers)

    def _of_values(
        self, kind: Kind, column: str, values: tuple[float, ...], provenance: Mapping[str, Any]
    ) -> Quantity | None:
        """Return the number that the values give."""
        try:
            found = None if kind == EMPIRICAL else fit(kind, values)
            marginal = Empirical(values) if found is None else found.marginal
        except (fitting.FittingError, MarginalError) as error:
            given = f"{len(values)} values that give no {kind} number"
            self._note("data", given, f"data that do, or another fit ({error})")
            return None
        below, above = self._beyond(marginal)
        for share, side, bound in (
            (below, "below", self.measure.least),
            (above, "above", self.measure.at_most),
        ):
            if share and bound is not None:
                beyond = f"{100 * share:.2g} % of it {side} {bound:g}"
                given = f"a {kind} number fitted to {len(values)} values, {beyond}"
                self._note("fit", given, f"a fit that stays within bounds, one of {', '.join(FITS)}")
        must, one_of = DISTRIBUTIONS.get(kind, ((), ()))
        keys = (*must, *(["sd"] if one_of else []))
        own = {key: float(getattr(marginal, key)) for key in keys}
        return self._quantity(kind, marginal, own, provenance, FromData(column, values, found))

    def _kind_of_fit(self) -> Kind | None:
        stated = self.given["fit"]
        if stated in FITS:
            return cast(Kind, stated)
        why = fitting.NOT_FITTED.get(stated) if isinstance(stated, str) else None
        hint = near_matches(str(stated), FITS) if why is None else f" ({why})"
        self._note("fit", shown(stated), f"one of {', '.join(FITS)}{hint}")
        return None

    def _factor(self) -> float:
        """Return what a bare number of the column is multiplied by; NaN where its unit is at fault."""
        if "unit" not in self.given:
            return 1.0
        unit = self.given["unit"]
        try:
            return to_number(
                f"1 {unit}" if isinstance(unit, str) and unit.strip() else None, self.measure.unit
            )
        except UnitError:
            near = nearest(unit, FAMILIAR) if isinstance(unit, str) else None
            hint = f"; did you mean {near}?" if near is not None and near != unit else ""
            wanted = (
                "no unit: the number has none"
                if self.measure.unit == "1"
                else f"a unit such as {self.measure.unit}"
            )
            self._note("unit", shown(unit), wanted + hint)
            return math.nan
