"""An uncertain number read from its mapping: distribution, moments, how it varies, where it comes from."""

from __future__ import annotations

import math
from pathlib import PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING, Any

from riskcut.study.errors import near_matches, nearest, shown
from riskcut.study.quantity import Kind, Quantity
from riskcut.study.units import has_unit

if TYPE_CHECKING:
    from riskcut.study.measure import At, Measure

DISTRIBUTIONS: dict[Kind, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "normal": (("mean",), ("sd", "cov")),
    "lognormal": (("mean",), ("sd", "cov")),
    "gumbel": (("mean",), ("sd", "cov")),
    "uniform": (("low", "high"), ()),
}
"""By distribution: the keys that it must have, and those of which it must have exactly one."""

COMMON_KEYS = ("dist", "varies", "period", "shared", "basis", "source", "data")
SPREAD_KEYS = ("mean", "sd", "cov", "low", "high")
ALL_KEYS = (*SPREAD_KEYS, *COMMON_KEYS)

DURATION = 'a duration with its unit, such as "1 year"'
LARGEST_COV = 3.0
"""A larger coefficient of variation is a percentage without its sign."""

LEAST_SPREAD = 1e-12
"""A standard deviation or coefficient of variation that is not larger is none."""

TOLERATED_BELOW = 1e-6
"""A number that falls below its bound more often is refused: each such row would count as impossible."""

TOLERATED_ABOVE = 0.01
"""A number that exceeds its bound more often is refused."""

EULER = 0.5772156649015329


def is_number(node: Any) -> bool:
    """Whether a mapping of the file is an uncertain number rather than a group of entries."""
    return isinstance(node, dict) and any(key in SPREAD_KEYS or key == "dist" for key in node)


def share_below(kind: str, reach: float) -> float:
    """Return the probability that a number falls more than ``reach`` standard deviations below its mean."""
    if kind == "gumbel":
        return math.exp(-math.exp(min(math.pi / math.sqrt(6) * reach - EULER, 700.0)))
    return 0.5 * math.erfc(reach / math.sqrt(2)) if kind == "normal" else 0.0


def share_above(kind: str, mean: float, sd: float, level: float) -> float:
    """Return the probability that a number exceeds a level."""
    if kind == "gumbel":
        return 1.0 - share_below(kind, (mean - level) / sd)
    if kind == "lognormal":
        log_sd = math.sqrt(math.log1p((sd / mean) ** 2))
        return share_below("normal", (math.log(level / mean) + log_sd**2 / 2) / log_sd)
    return share_below("normal", (level - mean) / sd)


class Uncertain:
    """Reads one uncertain number; every fault of it is noted with the keys that lead to it."""

    def __init__(self, measure: Measure, given: dict[str, Any], faults: list[tuple[At, str, str]]) -> None:
        self.measure = measure
        self.given = dict(given)
        self.faults = faults
        self.written: dict[str, str] = {}
        """A key to the misspelling that the writer gave for it."""
        self.unnamed = False
        """Whether a key could not be understood, so that nothing can be said to be missing."""

    def read(self) -> Quantity | None:
        """Return the number, None where its faults leave none."""
        self._spelling()
        kind = self._kind()
        if kind is None or not self._complete(kind):
            return None
        return self._number(kind)

    def _note(self, key: str, given: str, wanted: str, *below: str) -> None:
        at = (self.written.get(key, key), *below) if key else ()
        self.faults.append((at, given, wanted))

    def _kind(self) -> Kind | None:
        """Return the distribution: as stated, else by the keys, else normal."""
        if "dist" not in self.given:
            bounds = "low" in self.given or "high" in self.given
            return "uniform" if bounds and "mean" not in self.given else "normal"
        stated = self.given["dist"]
        for kind in DISTRIBUTIONS:
            if stated == kind:
                return kind
        hint = near_matches(str(stated), DISTRIBUTIONS)
        self._note("dist", shown(stated), f"one of {', '.join(DISTRIBUTIONS)}{hint}")
        return None

    def _spelling(self) -> None:
        """Note the keys that no number has; one that is near a missing key is read as that."""
        dist = self.given.get("dist")
        must, one_of = next((keys for kind, keys in DISTRIBUTIONS.items() if kind == dist), (SPREAD_KEYS, ()))
        known = (*must, *one_of, *COMMON_KEYS)
        for key in [key for key in self.given if key not in ALL_KEYS]:
            self._note(key, f"the key {key}", f"one of {', '.join(known)}{near_matches(key, known)}")
            value = self.given.pop(key)
            meant = nearest(key, known)
            if meant is None or meant in self.given:
                self.unnamed = True
            else:
                self.given[meant] = value
                self.written[meant] = key

    def _complete(self, kind: Kind) -> bool:
        """Return whether the keys are those of the distribution; note those that are too many or too few."""
        must, one_of = DISTRIBUTIONS[kind]
        keys = " and ".join(must) + (f" and {' or '.join(one_of)}" if one_of else "")
        keys = keys.replace("mean and sd or cov", "mean and either sd or cov")
        foreign = [key for key in self.given if key in SPREAD_KEYS and key not in (*must, *one_of)]
        if foreign:
            stated = "dist" in self.given
            given = (
                f"{' and '.join(foreign)} for a {kind} number" if stated else ", ".join(["mean", *foreign])
            )
            wanted = keys if stated or kind == "uniform" else f"{keys}; or low and high"
            self._note(foreign[0] if len(foreign) == 1 else "", given, wanted)
            return False
        if self.unnamed:
            return True
        missing = [key for key in must if key not in self.given]
        if one_of and not any(key in self.given for key in one_of):
            missing.append(" or ".join(one_of))
        if missing:
            what = (
                "an empty mapping" if not self.given else f"a {kind} number without {' and '.join(missing)}"
            )
            self._note("", what, f"{keys}: {self.measure.wanted}")
        elif len([key for key in one_of if key in self.given]) > 1:
            self._note("", f"both {' and '.join(one_of)}", f"{' or '.join(one_of)}, one of the two")
        return not missing

    def _number(self, kind: Kind) -> Quantity:
        low = high = None
        if kind == "uniform":
            low, high = self._range()
            mean, sd = (low + high) / 2, (high - low) / math.sqrt(12)
        else:
            mean, sd = self._moments(kind)
        basis = self._word("basis", ("measured", "published", "judgement"))
        return Quantity(
            kind=kind,
            value=mean,
            unit=self.measure.unit,
            sd=sd,
            low=low,
            high=high,
            period=self._period(),
            shared_sd=self._shared(),
            varies=self._word("varies", ("constant", "per_stage", "per_section")),
            basis=basis or "not_stated",
            source=self._text("source") or "",
            data=self._data(),
            above=self.measure.above,
            at_least=self.measure.at_least,
        )

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

    def _moments(self, kind: Kind) -> tuple[float, float]:
        mean = self._bounded("mean")
        if kind == "lognormal" and mean <= 0:
            self._note("mean", shown(self.given["mean"]), "a mean above 0 for a lognormal number")
            mean = math.nan
        sd = self._spread(mean)
        if kind == "lognormal" and sd > LARGEST_COV * mean:
            wanted = f"a spread of up to {LARGEST_COV:g} times the mean for a lognormal number"
            self._note("sd", shown(self.given["sd"]), wanted)
            sd = math.nan
        bound = self.measure.above if self.measure.above is not None else self.measure.at_least
        if (
            bound is not None
            and not self.unnamed
            and (share := share_below(kind, (mean - bound) / sd)) > TOLERATED_BELOW
        ):
            reach = f"its mean {(mean - bound) / sd:.1f} sd above {bound:g}, {100 * share:.2g} % of it below"
            wanted = "a smaller spread, or dist: lognormal, which stays above 0"
            self._note("", f"a {kind} number with {reach}", wanted)
        most = self.measure.at_most
        if (
            most is not None
            and not self.unnamed
            and (share := share_above(kind, mean, sd, most)) > TOLERATED_ABOVE
        ):
            given = f"a {kind} number with {100 * share:.2g} % of it above {most:g}"
            self._note("", given, f"a smaller mean or spread, or low and high up to {most:g}")
        return mean, sd

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
