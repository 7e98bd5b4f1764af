"""The entries of an uncertain number, each read by itself: values, spreads, durations, words."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from pathlib import PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING, Any

import numpy as np

from riskcut.study.errors import near_matches, shown
from riskcut.study.quantity import FromData, Kind, Quantity
from riskcut.study.units import has_unit
from riskcut.uncertainty.marginal import Marginal

if TYPE_CHECKING:
    from riskcut.study.measure import At, Measure

DURATION = 'a duration with its unit, such as "1 year"'

LARGEST_COV = 3.0
"""A larger coefficient of variation is a percentage without its sign."""

LEAST_SPREAD = 1e-12
"""A standard deviation or coefficient of variation that is not larger is none."""

TOLERATED_BELOW = 1e-6
"""A number that falls below its bound more often is refused: each such row would count as impossible."""

TOLERATED_ABOVE = 0.01
"""A number that exceeds its bound more often is refused."""

NO_FILE = "a file that is there, as a path relative to the study"

Files = Callable[[str], bytes | None]
"""Returns the bytes of a data file that the study names, None where there is none."""


def no_files(_name: str) -> None:
    """Return that there is no data file of any name."""


class Entries:
    """The mapping of one uncertain number; every fault of it is noted with the keys that lead to it."""

    def __init__(
        self,
        measure: Measure,
        given: dict[str, Any],
        faults: list[tuple[At, str, str]],
        files: Files = no_files,
    ) -> None:
        self.measure = measure
        self.given = dict(given)
        self.faults = faults
        self.files = files
        self.written: dict[str, str] = {}
        """A key to the misspelling that the writer gave for it."""
        self.unnamed = False
        """Whether a key could not be understood, so that nothing can be said to be missing."""

    def _note(self, key: str, given: str, wanted: str, *below: str) -> None:
        at = (self.written.get(key, key), *below) if key else ()
        self.faults.append((at, given, wanted))

    def _provenance(self) -> dict[str, Any]:
        """Return what is said of every uncertain number besides its distribution."""
        return {
            "period": self._period(),
            "shared_sd": self._shared(),
            "varies": self._word("varies", ("constant", "per_stage", "per_section")),
            "basis": self._word("basis", ("measured", "published", "judgement")) or "not_stated",
            "source": self._text("source") or "",
            "data": self._data(),
        }

    def _quantity(
        self,
        kind: Kind,
        marginal: Marginal,
        own: Mapping[str, float],
        provenance: Mapping[str, Any],
        from_data: FromData | None = None,
    ) -> Quantity:
        return Quantity(
            kind=kind,
            value=marginal.mean,
            unit=self.measure.unit,
            sd=marginal.sd,
            own=tuple(own.items()),
            from_data=from_data,
            above=self.measure.above,
            at_least=self.measure.at_least,
            **provenance,
        )

    def _beyond(self, marginal: Marginal) -> tuple[float, float]:
        """Return how much of a number lies below its bound and how much above; 0 where that is tolerated."""
        least, most = self.measure.least, self.measure.at_most
        below = 0.0 if least is None else float(marginal.cdf(np.array([least]))[0])
        above = 0.0 if most is None else 1.0 - float(marginal.cdf(np.array([most]))[0])
        return below if below > TOLERATED_BELOW else 0.0, above if above > TOLERATED_ABOVE else 0.0

    def _bounded(self, key: str) -> float:
        """Return a value that the measure bounds, NaN where it is missing or at fault."""
        if key not in self.given:
            return math.nan
        return self.measure.bounded(self.given[key], (self.written.get(key, key),), self.faults)

    def _range(self) -> tuple[float, float]:
        low, high = self._bounded("low"), self._bounded("high")
        if low >= high:
            self._note("high", shown(self.given["high"]), f"a number above low, {shown(self.given['low'])}")
        return low, high

    def _width(self, key: str) -> float:
        """Return a spread in the number's own unit, NaN where it is missing or at fault."""
        if key not in self.given:
            return math.nan
        unit = self.measure.unit
        wanted = f"a number{'' if unit == '1' else f' in {unit}'} above 0"
        at = (self.written.get(key, key),)
        width = self.measure.number(self.given[key], at, self.faults, unit, wanted)
        if width <= LEAST_SPREAD:
            self._note(key, shown(self.given[key]), f"{wanted}; a certain number is written by itself")
            return math.nan
        return width

    def _spread(self, mean: float) -> float:
        """Return the standard deviation, NaN where it is missing or at fault."""
        key = next((key for key in ("sd", "cov") if key in self.given), None)
        if key is None:
            return math.nan
        given = self.given[key]
        unit = self.measure.unit if key == "sd" else "1"
        wanted = f"a number{'' if unit == '1' else f' in {unit}'} above 0"
        wanted = wanted if key == "sd" else "a ratio above 0 (such as 0.1)"
        if key == "cov" and self.measure.datum:
            self._note("cov", "cov for a level", "sd in m (the cov of a level would hang on the datum)")
            return math.nan
        spread = self.measure.number(given, (self.written.get(key, key),), self.faults, unit, wanted)
        sd = spread if key == "sd" else spread * abs(mean)
        if spread <= LEAST_SPREAD:
            self._note(key, shown(given), f"{wanted}; a certain number is written by itself")
        elif key == "cov" and spread > LARGEST_COV:
            self._note(key, shown(given), f'a ratio up to {LARGEST_COV:g} (10 per cent is 0.1 or "10 %")')
        elif sd == 0:
            self._note(key, "cov of a number whose mean is 0", "sd, in the number's own unit")
        else:
            return sd
        return math.nan

    def _period(self) -> float | None:
        if "period" not in self.given:
            return None
        given = self.given["period"]
        if not isinstance(given, str) or not has_unit(given):
            self._note("period", shown(given), DURATION)
            return None
        years = self.measure.number(
            given, (self.written.get("period", "period"),), self.faults, "year", DURATION
        )
        if years <= 0:
            self._note("period", shown(given), DURATION)
        return years

    def _shared(self) -> float | None:
        if "shared" not in self.given:
            return None
        unit = self.measure.unit
        wanted = f"{{sd: a number{'' if unit == '1' else f' in {unit}'} above 0}}"
        shared = self.given["shared"]
        if not isinstance(shared, dict) or "sd" not in shared or len(shared) > 1:
            foreign = [key for key in shared if key != "sd"] if isinstance(shared, dict) else []
            if foreign:
                self._note("shared", f"the key {foreign[0]}", "sd", foreign[0])
            else:
                self._note("shared", shown(shared), wanted)
            return None
        at = (self.written.get("shared", "shared"), "sd")
        sd = self.measure.number(shared["sd"], at, self.faults, unit, wanted)
        if sd <= 0:
            self._note("shared", shown(shared["sd"]), wanted, "sd")
        return sd

    def _word(self, key: str, words: tuple[str, ...]) -> Any:
        if key not in self.given or self.given[key] in words:
            return self.given.get(key)
        given = self.given[key]
        self._note(key, shown(given), f"one of {', '.join(words)}{near_matches(str(given), words)}")
        return None

    def _text(self, key: str) -> str | None:
        if key not in self.given:
            return None
        text = self.given[key]
        if not isinstance(text, str) or not text.strip():
            self._note(key, shown(text), "a text")
            return None
        return text

    def _data(self) -> str | None:
        text = self._text("data")
        if text is not None and (PurePosixPath(text).is_absolute() or PureWindowsPath(text).is_absolute()):
            self._note("data", shown(text), "a path relative to the study file")
            return None
        return text
