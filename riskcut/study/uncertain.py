"""An uncertain number read from its mapping: distribution, moments, how it varies, where it comes from."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from riskcut.study import families
from riskcut.study.errors import near_matches, nearest, shown
from riskcut.study.families import share_above, share_below
from riskcut.study.number_entries import LARGEST_COV, Entries
from riskcut.study.quantity import Kind, Quantity

DISTRIBUTIONS: dict[Kind, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "normal": (("mean",), ("sd", "cov")),
    "lognormal": (("mean",), ("sd", "cov")),
    "gumbel": (("mean",), ("sd", "cov")),
    "uniform": (("low", "high"), ()),
    "triangular": (("low", "mode", "high"), ()),
    "truncated_normal": (("parent_mean", "parent_sd", "low", "high"), ()),
    "beta": (("mean", "low", "high"), ("sd", "cov")),
    "gamma": (("mean",), ("sd", "cov")),
    "exponential": (("mean",), ()),
    "weibull": (("mean",), ("sd", "cov")),
    "gev": (("location", "scale", "shape"), ()),
    "frechet": (("mean",), ("sd", "cov")),
}
"""By distribution: the keys that it must have, and those of which it must have exactly one."""

COMMON_KEYS = ("dist", "varies", "period", "shared", "basis", "source", "data")
PLAIN_KEYS = ("mean", "sd", "cov", "low", "high")
"""Keys that need no ``dist`` beside them."""

SPREAD_KEYS = (*PLAIN_KEYS, "mode", "parent_mean", "parent_sd", "location", "scale", "shape")
"""Keys that state a distribution. ``mode``: most likely value of a triangular number. ``parent_mean``,
``parent_sd``: of the normal number that is cut off at low and high. ``location``, ``scale``, ``shape``: of a
generalised extreme value (a shape above 0 has a heavy upper tail, one below 0 an upper end)."""

ABOVE_ZERO = ("lognormal", "gamma", "exponential", "weibull", "frechet")
"""Distributions of numbers that are above 0, with a mean that is."""

ALL_KEYS = (*SPREAD_KEYS, *COMMON_KEYS)


TOLERATED_BELOW = 1e-6
"""A number that falls below its bound more often is refused: each such row would count as impossible."""

TOLERATED_ABOVE = 0.01
"""A number that exceeds its bound more often is refused."""


Stated = tuple[dict[str, float], float, float]
"""Parameters of a distribution where they are not mean and sd, its mean and its sd."""


def is_number(node: Any) -> bool:
    """Whether a mapping of the file is an uncertain number rather than a group of entries."""
    return isinstance(node, dict) and any(key in SPREAD_KEYS or key == "dist" for key in node)


class Uncertain(Entries):
    """Reads one uncertain number; every fault of it is noted with the keys that lead to it."""

    def read(self) -> Quantity | None:
        """Return the number, None where its faults leave none."""
        self._spelling()
        kind = self._kind()
        if kind is None or not self._complete(kind):
            return None
        return self._number(kind)

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
        must, one_of = next((keys for kind, keys in DISTRIBUTIONS.items() if kind == dist), (PLAIN_KEYS, ()))
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
        named = [key for key in foreign if key not in PLAIN_KEYS]
        if named and "dist" not in self.given:
            of = [kind for kind, (keys_of, _) in DISTRIBUTIONS.items() if named[0] in keys_of]
            self._note(named[0], f"{named[0]} without dist", f"dist: {' or '.join(of)}")
            return False
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
        own, mean, sd = {
            "uniform": self._uniform,
            "triangular": self._triangular,
            "truncated_normal": self._truncated,
            "beta": self._beta,
            "gev": self._gev,
        }.get(kind, lambda: self._moments(kind))()
        basis = self._word("basis", ("measured", "published", "judgement"))
        return Quantity(
            kind=kind,
            value=mean,
            unit=self.measure.unit,
            sd=sd,
            low=own.get("low"),
            high=own.get("high"),
            own=tuple(own.items()),
            period=self._period(),
            shared_sd=self._shared(),
            varies=self._word("varies", ("constant", "per_stage", "per_section")),
            basis=basis or "not_stated",
            source=self._text("source") or "",
            data=self._data(),
            above=self.measure.above,
            at_least=self.measure.at_least,
        )

    def _uniform(self) -> Stated:
        low, high = self._range()
        return {"low": low, "high": high}, (low + high) / 2, (high - low) / math.sqrt(12)

    def _moments(self, kind: Kind) -> Stated:
        mean = self._bounded("mean")
        if kind in ABOVE_ZERO and mean <= 0:
            self._note("mean", shown(self.given["mean"]), f"a mean above 0 for a {kind} number")
            mean = math.nan
        sd = mean if kind == "exponential" else self._spread(mean)
        if kind in ABOVE_ZERO and sd > LARGEST_COV * mean:
            wanted = f"a spread of up to {LARGEST_COV:g} times the mean for a {kind} number"
            self._note("sd", shown(self.given["sd"]), wanted)
            sd = math.nan
        if kind == "gamma" and sd < families.LEAST_GAMMA_COV * mean:
            key = "sd" if "sd" in self.given else "cov"
            wanted = f"a spread of {families.LEAST_GAMMA_COV:g} times the mean or more, or dist: normal"
            self._note(key, shown(self.given[key]), wanted)
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
        return ({"mean": mean} if kind == "exponential" else {}), mean, sd

    def _triangular(self) -> Stated:
        low, high = self._range()
        mode = self._bounded("mode")
        if not math.isnan(low + high) and low < high and (mode < low or mode > high):
            self._note("mode", shown(self.given["mode"]), "a number from low to high")
            mode = math.nan
        return _with_moments(families.triangular_moments, {"low": low, "mode": mode, "high": high})

    def _truncated(self) -> Stated:
        low, high = self._range()
        mean, sd = self._bounded("parent_mean"), self._width("parent_sd")
        if max(low - mean, mean - high) > families.FARTHEST * sd:
            wanted = f"low and high that keep values within {families.FARTHEST:g} parent_sd of parent_mean"
            self._note("", "a truncated_normal number that keeps next to nothing of its parent", wanted)
            mean = math.nan
        elif high > low and high - low < 1e-6 * sd:
            self._note("high", shown(self.given["high"]), "a number farther above low, or dist: uniform")
            mean = math.nan
        own = {"parent_mean": mean, "parent_sd": sd, "low": low, "high": high if high > low else math.nan}
        return _with_moments(families.truncated_moments, own)

    def _gev(self) -> Stated:
        location, scale = self._bounded("location"), self._width("scale")
        wanted = f"a number from {families.LEAST_SHAPE:g} to below {families.MOST_SHAPE:g}"
        at = (self.written.get("shape", "shape"),)
        shape = math.nan
        if "shape" in self.given:
            shape = self.measure.number(self.given["shape"], at, self.faults, "1", wanted)
        if not math.isnan(shape) and not families.LEAST_SHAPE <= shape < families.MOST_SHAPE:
            self._note("shape", shown(self.given["shape"]), wanted)
            shape = math.nan
        stated = _with_moments(families.gev_moments, {"location": location, "scale": scale, "shape": shape})
        if math.isnan(stated[1]) or self.unnamed:
            return stated
        bound = self.measure.above if self.measure.above is not None else self.measure.at_least
        below = families.gev_below(location, scale, shape, bound) if bound is not None else 0.0
        if below > TOLERATED_BELOW:
            given = f"a gev number with {100 * below:.2g} % of it below {bound:g}"
            self._note("", given, "a smaller scale, or dist: frechet, which stays above 0")
        most = self.measure.at_most
        above = 1.0 - families.gev_below(location, scale, shape, most) if most is not None else 0.0
        if above > TOLERATED_ABOVE:
            given = f"a gev number with {100 * above:.2g} % of it above {most:g}"
            self._note("", given, f"a smaller location or scale, or low and high up to {most:g}")
        return stated

    def _beta(self) -> Stated:
        low, high = self._range()
        mean = self._bounded("mean")
        sd = self._spread(mean)
        if low < high and (mean <= low or mean >= high):
            self._note("mean", shown(self.given["mean"]), "a number between low and high")
        elif low < mean < high:
            least, most = families.beta_spreads(mean, low, high)
            if sd < least or sd > most:
                key = "sd" if "sd" in self.given else "cov"
                bound = f"up to {most:.3g}" if sd > most else f"from {least:.3g}"
                wanted = f"an sd {bound} for a beta number with this mean between low and high"
                self._note(key, shown(self.given[key]), wanted)
        return {"mean": mean, "sd": sd, "low": low, "high": high}, mean, sd


def _with_moments(moments: Callable[..., tuple[float, float]], own: dict[str, float]) -> Stated:
    """Return parameters with the mean and sd that they make, NaN where one is missing or at fault."""
    mean, sd = (math.nan, math.nan) if any(map(math.isnan, own.values())) else moments(*own.values())
    return own, mean, sd
