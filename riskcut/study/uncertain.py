"""An uncertain number read from its mapping: distribution, moments, how it varies, where it comes from."""

from __future__ import annotations

import math
from typing import Any

from riskcut.study.errors import near_matches, nearest, shown
from riskcut.study.families import (
    ABOVE_ZERO,
    ALL_KEYS,
    COMMON_KEYS,
    DISTRIBUTIONS,
    FARTHEST,
    FIT_KEYS,
    FITS,
    LEAST_SHAPE,
    MOST_SHAPE,
    PLAIN_KEYS,
    SPREAD_KEYS,
)
from riskcut.study.fitted_entries import FittedEntries
from riskcut.study.number_entries import LARGEST_COV
from riskcut.study.quantity import Kind, Quantity
from riskcut.uncertainty.beta import spreads
from riskcut.uncertainty.gamma import LEAST_VARIATION
from riskcut.uncertainty.marginals import Marginal, MarginalError, make

Stated = dict[str, float]
"""Parameters of a distribution, NaN where one is missing or at fault."""


def is_number(node: Any) -> bool:
    """Whether a mapping of the file is an uncertain number rather than a group of entries."""
    return isinstance(node, dict) and any(key in (*SPREAD_KEYS, "dist", "fit") for key in node)


class Uncertain(FittedEntries):
    """Reads one uncertain number; every fault of it is noted with the keys that lead to it."""

    def read(self) -> Quantity | None:
        """Return the number, None where its faults leave none."""
        self._spelling()
        if "fit" in self.given:
            return self._fitted()
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
        hint = f"; or fit: {stated}" if stated in FITS else near_matches(str(stated), DISTRIBUTIONS)
        self._note("dist", shown(stated), f"one of {', '.join(DISTRIBUTIONS)}{hint}")
        return None

    def _spelling(self) -> None:
        """Note the keys that no number has; one that is near a missing key is read as that."""
        dist = self.given.get("dist")
        must, one_of = next((keys for kind, keys in DISTRIBUTIONS.items() if kind == dist), (PLAIN_KEYS, ()))
        of_data = any(key in FIT_KEYS for key in self.given)
        known = (*(FIT_KEYS if of_data else (*must, *one_of, "dist", *FIT_KEYS[:1])), *COMMON_KEYS)
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
        alone = [key for key in FIT_KEYS if key in self.given]
        if alone:
            self._note(alone[0], f"{alone[0]} without fit", f"fit: one of {', '.join(FITS)}")
            return False
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
            fitted = f"; or fit: {kind}, from the data" if "data" in self.given and kind in FITS else ""
            self._note("", what, f"{keys}: {self.measure.wanted}{fitted}")
        elif len([key for key in one_of if key in self.given]) > 1:
            self._note("", f"both {' and '.join(one_of)}", f"{' or '.join(one_of)}, one of the two")
        return not missing

    def _number(self, kind: Kind) -> Quantity | None:
        own = {
            "uniform": self._uniform,
            "triangular": self._triangular,
            "truncated_normal": self._truncated,
            "beta": self._beta,
            "gev": self._gev,
        }.get(kind, lambda: self._moments(kind))()
        provenance = self._provenance()
        if any(map(math.isnan, own.values())):
            return None
        try:
            marginal = make(kind, **own)
        except MarginalError as error:  # at the very ends of what can be computed with
            self._note("", f"a {kind} number with {' and '.join(own)} that give none", f"others ({error})")
            return None
        if not self.unnamed:
            self._within_bounds(kind, marginal)
        return self._quantity(kind, marginal, own, provenance)

    def _within_bounds(self, kind: Kind, marginal: Marginal) -> None:
        """Note where too much of a number lies beyond its bounds."""
        below, above = self._beyond(marginal)
        of = "location or scale" if kind == "gev" else "mean or spread"
        if below:
            assert self.measure.least is not None
            reach = (marginal.mean - self.measure.least) / marginal.sd
            given = f"{100 * below:.2g} % of it below"
            if kind == "gev":
                given, wanted = f"{given} {self.measure.least:g}", "a smaller scale, or dist: frechet"
            else:
                given = f"its mean {reach:.1f} sd above {self.measure.least:g}, {given}"
                wanted = "a smaller spread, or dist: lognormal"
            self._note("", f"a {kind} number with {given}", f"{wanted}, which stays above 0")
        if above:
            given = f"a {kind} number with {100 * above:.2g} % of it above {self.measure.at_most:g}"
            self._note("", given, f"a smaller {of}, or low and high up to {self.measure.at_most:g}")

    def _uniform(self) -> Stated:
        low, high = self._range()
        return {"low": low, "high": high if high > low else math.nan}

    def _moments(self, kind: Kind) -> Stated:
        mean = self._bounded("mean")
        if kind in ABOVE_ZERO and mean <= 0:
            self._note("mean", shown(self.given["mean"]), f"a mean above 0 for a {kind} number")
            mean = math.nan
        if kind == "exponential":
            return {"mean": mean}
        sd = self._spread(mean)
        if kind in ABOVE_ZERO and sd > LARGEST_COV * mean:
            wanted = f"a spread of up to {LARGEST_COV:g} times the mean for a {kind} number"
            self._note("sd", shown(self.given["sd"]), wanted)
            sd = math.nan
        if kind == "gamma" and sd < LEAST_VARIATION * mean:
            key = "sd" if "sd" in self.given else "cov"
            wanted = f"a spread of {LEAST_VARIATION:g} times the mean or more, or dist: normal"
            self._note(key, shown(self.given[key]), wanted)
            sd = math.nan
        return {"mean": mean, "sd": sd}

    def _triangular(self) -> Stated:
        low, high = self._range()
        mode = self._bounded("mode")
        if not math.isnan(low + high) and low < high and (mode < low or mode > high):
            self._note("mode", shown(self.given["mode"]), "a number from low to high")
            mode = math.nan
        return {"low": low, "mode": mode, "high": high if high > low else math.nan}

    def _truncated(self) -> Stated:
        low, high = self._range()
        mean, sd = self._bounded("parent_mean"), self._width("parent_sd")
        if max(low - mean, mean - high) > FARTHEST * sd:
            wanted = f"low and high that keep values within {FARTHEST:g} parent_sd of parent_mean"
            self._note("", "a truncated_normal number that keeps next to nothing of its parent", wanted)
            mean = math.nan
        elif high > low and high - low < 1e-6 * sd:
            self._note("high", shown(self.given["high"]), "a number farther above low, or dist: uniform")
            mean = math.nan
        return {"parent_mean": mean, "parent_sd": sd, "low": low, "high": high if high > low else math.nan}

    def _gev(self) -> Stated:
        location, scale = self._bounded("location"), self._width("scale")
        wanted = f"a number from {LEAST_SHAPE:g} to below {MOST_SHAPE:g}"
        at = (self.written.get("shape", "shape"),)
        shape = math.nan
        if "shape" in self.given:
            shape = self.measure.number(self.given["shape"], at, self.faults, "1", wanted)
        if not math.isnan(shape) and not LEAST_SHAPE <= shape < MOST_SHAPE:
            self._note("shape", shown(self.given["shape"]), wanted)
            shape = math.nan
        return {"location": location, "scale": scale, "shape": shape}

    def _beta(self) -> Stated:
        low, high = self._range()
        mean = self._bounded("mean")
        sd = self._spread(mean)
        if low < high and (mean <= low or mean >= high):
            self._note("mean", shown(self.given["mean"]), "a number between low and high")
            mean = math.nan
        elif low < mean < high:
            least, most = spreads(mean, low, high)
            if sd < least or sd > most:
                key = "sd" if "sd" in self.given else "cov"
                bound = f"up to {most:.3g}" if sd > most else f"from {least:.3g}"
                wanted = f"an sd {bound} for a beta number with this mean between low and high"
                self._note(key, shown(self.given[key]), wanted)
                sd = math.nan
        return {"mean": mean, "sd": sd, "low": low, "high": high if high > low else math.nan}
