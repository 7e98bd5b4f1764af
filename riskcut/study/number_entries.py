"""The entries of an uncertain number, each read by itself: values, spreads, durations, words."""

from __future__ import annotations

import math
from pathlib import PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING, Any

from riskcut.study.errors import near_matches, shown
from riskcut.study.units import has_unit

if TYPE_CHECKING:
    from riskcut.study.measure import At, Measure

DURATION = 'a duration with its unit, such as "1 year"'

LARGEST_COV = 3.0
"""A larger coefficient of variation is a percentage without its sign."""

LEAST_SPREAD = 1e-12
"""A standard deviation or coefficient of variation that is not larger is none."""


class Entries:
    """The mapping of one uncertain number; every fault of it is noted with the keys that lead to it."""

    def __init__(self, measure: Measure, given: dict[str, Any], faults: list[tuple[At, str, str]]) -> None:
        self.measure = measure
        self.given = dict(given)
        self.faults = faults
        self.written: dict[str, str] = {}
        """A key to the misspelling that the writer gave for it."""
        self.unnamed = False
        """Whether a key could not be understood, so that nothing can be said to be missing."""

    def _note(self, key: str, given: str, wanted: str, *below: str) -> None:
        at = (self.written.get(key, key), *below) if key else ()
        self.faults.append((at, given, wanted))

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
